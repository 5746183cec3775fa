// A button with data-print prints the sheet that it stands on, or saves it as PDF.
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});
