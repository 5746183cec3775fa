// The drawings of the reading form that a finger sets: the ring on the nose, the heat mark on the strap. The number
// field is the truth; the drawings follow it, and a finger, a mouse or a key on a drawing writes into it.
(() => {
  const number = (words) => {
    const text = (words ?? "").trim().replace(",", ".");
    return text === "" ? NaN : Number(text);
  };
  const part = (host, name) => host.querySelector(`[data-part="${name}"]`);
  const show = (element, yes) => element?.setAttribute("visibility", yes ? "visible" : "hidden");
  const put = (form, name, value) => {
    const field = form.elements[name];
    field.value = value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const rounded = (value, places) => String(Number(value.toFixed(places)));
  const longest = (form) => Number(form.dataset.nose) || 40;
  const spot = (svg, event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());

  // the ring
  const standsFor = (form, view, depth, plain) => {
    const rows = JSON.parse(form.dataset.scale)[view];
    if (!rows) return "";
    const next = rows.findIndex((row) => row[0] >= depth);
    if (next < 0) return "";
    const above = rows[next], below = rows[Math.max(next - 1, 0)];
    const share = above[0] === below[0] ? 0 : (depth - below[0]) / (above[0] - below[0]);
    const [mean, low, high] = [1, 2, 3].map((n) => (below[n] + share * (above[n] - below[n])).toFixed(3));
    return plain ? `lambda ${mean}, ${low} to ${high} at 95 %` : `lambda ${mean}`;
  };
  const drawRing = (form) => {
    const host = form.querySelector(".nose-setter");
    const svg = host?.querySelector("svg");
    if (!svg) return;
    const ring = form.elements.ring.value, view = form.elements.view.value;
    const depth = number(form.elements.ring_mm.value), typed = number(form.elements.ring_sd_mm.value);
    const usual = JSON.parse(form.dataset.sd)[view];
    const sd = typed > 0 && typed < 20 ? typed : usual;
    const there = ring === "seen" && depth >= 0 && depth <= longest(form);
    const perMm = Number(svg.dataset.pxPerMm), y = Number(svg.dataset.tip) + (there ? depth : 0) * perMm;
    const soot = part(svg, "soot"), half = Number(soot.dataset.halfMm);
    const wide = Math.hypot(half, sd) / half;
    soot.setAttribute("transform", `translate(0 ${y}) scale(1 ${wide})`);
    soot.setAttribute("opacity", (1 / wide) ** 0.4);
    show(soot, there);
    show(part(svg, "moved"), there);
    part(svg, "moved").setAttribute("transform", `translate(0 ${y})`);
    const doubt = part(svg, "doubt");
    doubt.setAttribute("y1", -sd * perMm);
    doubt.setAttribute("y2", sd * perMm);
    part(svg, "words").textContent = there ? rounded(depth, 1) : "";
    show(part(svg, "all-dark"), ring === "all-dark");
    svg.querySelectorAll("[data-view]").forEach((one) => show(one, one.dataset.view === view));
    const bare = ring === "seen" ? "tap the ring" : { none: "no ring", "not-seen": "not seen" }[ring] ?? "";
    part(svg, "on-nose").textContent = there ? "" : bare;
    const words = {
      none: "no ring on the nose",
      "all-dark": "the whole nose dark",
      "not-seen": "the ring could not be seen",
      seen: there ? `ring ${rounded(depth, 2)} mm from the tip` : "not read yet",
    }[ring];
    const nose = there && form.dataset.nose ? ` of a nose of ${rounded(longest(form), 2)} mm` : "";
    svg.setAttribute("aria-label", `${form.dataset.who}: ${words}${nose}.`);
    svg.querySelector("title").textContent = "";
    const stands = there ? standsFor(form, view, depth, !(typed > 0) || typed === usual) : "";
    part(form, "stands").textContent = stands ? `A ring at ${rounded(depth, 2)} mm stands for ${stands}.` : "";
    if (there) host.setAttribute("aria-valuenow", depth);
    else host.removeAttribute("aria-valuenow");
    host.setAttribute("aria-valuetext", `${words}${stands ? `, stands for ${stands}` : ""}`);
    host.setAttribute("aria-disabled", ring === "seen" ? "false" : "true");
    form.querySelector("#depth-fields").hidden = ring !== "seen";
  };
  const setDepth = (form, depth) =>
    put(form, "ring_mm", rounded(Math.min(Math.max(depth, 0), longest(form)), 1));

  // the strap
  const drawStrap = (form) => {
    const host = form.querySelector(".strap-setter");
    const svg = host?.querySelector("svg");
    if (!svg) return;
    const share = number(form.elements.strap_mark.value), there = share >= 0 && share <= 1;
    const way = part(svg, "way");
    show(part(svg, "mark"), there);
    if (there) {
      const at = way.getPointAtLength(share * way.getTotalLength());
      part(svg, "grip").setAttribute("transform", `translate(${at.x} ${at.y})`);
      part(svg, "coloured").setAttribute("stroke-dasharray", `${share} 2`);
      part(svg, "words").textContent = rounded(share, 2);
    }
    const words = there ? `its heat mark ends ${rounded(share, 2)} of the way from tip to weld` : "its heat mark was not looked at";
    svg.setAttribute("aria-label", `Ground strap: ${words}.`);
    svg.querySelector("title").textContent = "";
    if (there) host.setAttribute("aria-valuenow", share);
    else host.removeAttribute("aria-valuenow");
    host.setAttribute("aria-valuetext", words);
  };
  const nearest = (way, point) => {
    const long = way.getTotalLength();
    let best = 0, least = Infinity;
    for (let n = 0; n <= 100; n += 1) {
      const at = way.getPointAtLength((n / 100) * long);
      const far = Math.hypot(at.x - point.x, at.y - point.y);
      if (far < least) [least, best] = [far, n / 100];
    }
    return best;
  };
  const setShare = (form, share) => put(form, "strap_mark", rounded(Math.min(Math.max(share, 0), 1), 2));

  // fingers
  let held = null;
  const follow = (event) => {
    const point = spot(held.svg, event);
    if (held.strap) return setShare(held.form, nearest(part(held.svg, "way"), point));
    const depth = (point.y - Number(held.svg.dataset.tip)) / Number(held.svg.dataset.pxPerMm);
    setDepth(held.form, depth + held.off);
  };
  document.addEventListener("pointerdown", (event) => {
    const way = event.target.closest?.(".setter .draggable");
    const form = way?.closest("form");
    if (!form || event.button > 0 || held) return;
    const svg = way.ownerSVGElement, strap = svg.classList.contains("strap");
    if (!strap && form.elements.ring.value !== "seen") return;
    held = { svg, form, strap, off: 0, id: event.pointerId };
    if (!strap) {
      // taken by its grip the ring keeps its place under the finger; a tap on the nose brings it there
      const now = number(form.elements.ring_mm.value), grip = part(svg, "moved").querySelector(".grip");
      const point = spot(svg, event);
      const at = (point.y - Number(svg.dataset.tip)) / Number(svg.dataset.pxPerMm);
      const onGrip = Math.abs(point.x - Number(grip.getAttribute("cx"))) < 32;
      if (onGrip && Math.abs(at - now) < 2.2) held.off = now - at;
    }
    event.preventDefault();
    way.setPointerCapture(event.pointerId);
    follow(event);
  });
  document.addEventListener("pointermove", (event) => held?.id === event.pointerId && follow(event));
  const letGo = (event) => {
    if (held?.id === event.pointerId) held = null;
  };
  document.addEventListener("pointerup", letGo);
  document.addEventListener("pointercancel", letGo);

  // keys and buttons
  const nudge = (form, by) => {
    const now = number(form.elements.ring_mm.value);
    setDepth(form, Number.isFinite(now) ? now + by : (Number(form.dataset.nose) || 14) / 2);
  };
  document.addEventListener("keydown", (event) => {
    const host = event.target.closest?.(".setter");
    const form = host?.closest("form");
    if (!form || event.target !== host) return;
    const strap = host.classList.contains("strap-setter"), step = Number(host.dataset.step);
    if (!strap && form.elements.ring.value !== "seen") return;
    const by = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1, PageDown: 5, PageUp: -5 }[event.key];
    const end = { Home: 0, End: strap ? 1 : longest(form) }[event.key];
    if (by === undefined && end === undefined) return;
    event.preventDefault();
    const now = number(form.elements[strap ? "strap_mark" : "ring_mm"].value);
    if (strap) setShare(form, end ?? (Number.isFinite(now) ? now + by * step : 0.5));
    else if (end !== undefined) setDepth(form, end);
    else nudge(form, by * step);
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.(".reading-form button");
    if (!button) return;
    const form = button.closest("form");
    if (button.dataset.nudge) nudge(form, Number(button.dataset.nudge));
    if (button.dataset.clear) put(form, button.dataset.clear, "");
    if (button.dataset.fill) put(form, button.dataset.fill, button.dataset.words);
  });

  document.addEventListener("sootline:form", (event) => {
    drawRing(event.target);
    drawStrap(event.target);
  });
  // a strap inside a closed part has no length to walk along until it is opened
  document.addEventListener("toggle", (event) => {
    const form = event.target.closest?.(".reading-form");
    if (form) drawStrap(form);
  }, true);
})();
