// A label that is typed opens that plug's page; capitals and blanks are the page's own business.
document.addEventListener("submit", (event) => {
  if (!event.target.classList.contains("find")) return;
  event.preventDefault();
  const label = event.target.elements.label.value.trim();
  if (label) window.dash_clientside.set_props("location", { pathname: `/plug/${encodeURIComponent(label)}`, search: "" });
});
