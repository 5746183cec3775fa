// In the reading form a tap on the nose is a depth: the number field takes it as if it had been typed.
document.addEventListener("click", (event) => {
  const drawing = event.target.closest("#nose-preview svg");
  const fields = document.getElementById("depth-fields");
  if (!drawing || !fields || fields.hidden) return;
  const box = drawing.getBoundingClientRect();
  const grid = drawing.viewBox.baseVal;
  const y = ((event.clientY - box.top) / box.height) * grid.height;
  const depth = (y - Number(drawing.dataset.tip)) / Number(drawing.dataset.pxPerMm);
  const x = ((event.clientX - box.left) / box.width) * grid.width;
  // left of the axis only, and not above the tip; a depth below the seat is refused in words when it is written
  if (depth < 0 || x > 250) return;
  const value = Math.round(depth * 10) / 10;
  window.dash_clientside.set_props({ type: "field", name: "ring_mm" }, { value });
});
