// A band that is tapped, pointed at or gone to by arrow keys says all that is known of it below its map.
(() => {
  const places = (host) =>
    [...host.querySelectorAll("g.band")].map((band) => {
      const box = band.querySelector(".hit");
      return { band, x: Number(box.getAttribute("x")), y: Number(box.getAttribute("y")) };
    });
  const say = (host, band) => {
    host.querySelector("g.band.told")?.classList.remove("told");
    band.classList.add("told");
    const said = host.parentElement.querySelector(".band-says");
    if (said && said.textContent !== band.dataset.says) said.textContent = band.dataset.says;
  };
  const onBand = (event) => {
    const band = event.target.closest?.("g.band[data-says]");
    const host = band?.closest(".bands-to-tap");
    if (host) say(host, band);
  };
  document.addEventListener("click", onBand);
  document.addEventListener("pointerover", (event) => event.pointerType === "mouse" && onBand(event));
  document.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!way || !event.target.classList?.contains("bands-to-tap")) return;
    event.preventDefault();
    const host = event.target;
    const all = places(host).filter(({ band }) => band.dataset.says);
    if (all.length === 0) return;
    const now = all.find(({ band }) => band.classList.contains("told"));
    if (!now) return say(host, all[0].band);
    // the nearest one that way; sideways steps count more than those along
    const ahead = all
      .map((one) => ({ one, along: (one.x - now.x) * way[0] + (one.y - now.y) * way[1], aside: Math.abs((one.x - now.x) * way[1]) + Math.abs((one.y - now.y) * way[0]) }))
      .filter(({ along }) => along > 0.5)
      .sort((a, b) => a.along + 3 * a.aside - (b.along + 3 * b.aside));
    if (ahead.length) say(host, ahead[0].one.band);
  });
})();
