// Puts the drawings into the page as elements, so that the page's colours reach them. The markup comes from
// dashboard/figures, where every text has been escaped.
(() => {
  const shown = new WeakMap();
  const fill = (element) => {
    const markup = element.getAttribute("data-svg");
    if (shown.get(element) === markup) return;
    shown.set(element, markup);
    element.innerHTML = markup;
    element.dispatchEvent(new CustomEvent("sootline:filled", { bubbles: true }));
  };
  const look = (node) => {
    if (node.nodeType !== Node.ELEMENT_NODE) return;
    if (node.hasAttribute("data-svg")) fill(node);
    node.querySelectorAll("[data-svg]").forEach(fill);
  };
  new MutationObserver((changes) => {
    for (const change of changes) {
      if (change.type === "attributes") fill(change.target);
      else change.addedNodes.forEach(look);
    }
  }).observe(document.documentElement, {
    subtree: true,
    childList: true,
    attributes: true,
    attributeFilter: ["data-svg"],
  });
})();
