// A photograph on the reading form: sent, shown with two marks to drag, and read anew whenever a mark is let go.
(() => {
  const SVG = "http://www.w3.org/2000/svg";
  const part = (host, name) => host.querySelector(`[data-part="${name}"]`);
  const make = (name, attributes = {}, ...children) => {
    const one = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, value);
    one.append(...children);
    return one;
  };
  const held = new WeakMap();  // form -> the picture that is on its desk
  const photoOf = (form) => form.querySelector("details.photo");

  const say = (form, kind, words) => {
    const line = document.createElement("p");
    line.className = kind;
    line.textContent = words;
    part(photoOf(form), "photo-said").replaceChildren(...(words ? [line] : []));
  };
  const ask = async (path, body, headers = {}) => {
    try {
      const reply = await fetch(path, { method: "POST", headers, body, signal: AbortSignal.timeout(120000) });
      return reply.ok ? await reply.json() : { refused: `The picture was not taken: ${await reply.text()}` };
    } catch {
      return { refused: "The dashboard cannot be reached. The picture is still on this device, and the form keeps what it holds: choose the picture again when the connection is back." };
    }
  };
  const json = (path, told) => ask(path, JSON.stringify(told), { "content-type": "application/json" });
  const typed = (form, name) => form.elements[name].value;
  const told = (form) => {
    const { file, marks, touched } = held.get(form);
    return {
      label: form.dataset.label,
      session: Number(form.dataset.session),
      file,
      // marks that nobody moved are the tool's own, and count as such
      tip: touched ? marks.tip : null,
      seat: touched ? marks.seat : null,
      view: typed(form, "photo_view"),
      nose_mm: typed(form, "photo_nose_mm"),
      rim_mm: typed(form, "photo_rim_mm"),
    };
  };

  // sending
  const send = async (form, file) => {
    say(form, "done", "The picture is on its way ...");
    const asked = new URLSearchParams({
      label: form.dataset.label,
      session: form.dataset.session,
      view: typed(form, "photo_view"),
      nose_mm: typed(form, "photo_nose_mm"),
    });
    const answer = await ask(`/_plug/photo?${asked}`, file, { "content-type": "application/octet-stream" });
    if (answer.refused) return say(form, "refused", answer.refused);
    say(form, "done", answer.saved);
    const marks = answer.tip && answer.seat ? { tip: answer.tip, seat: answer.seat } : null;
    held.set(form, { ...answer, marks, touched: false });
    part(form, "desk").hidden = false;
    stage(form);
    part(form, "photo-result").innerHTML = answer.result;
  };

  // the stage
  const stage = (form) => {
    const { width, height, url, session } = held.get(form);
    const picture = make("image", { href: `${url}?side=2000`, width, height });
    const svg = make("svg", { viewBox: `0 0 ${width} ${height}`, class: "photo-picture", role: "group", "aria-label": `Photograph for session ${session}` }, picture);
    const loupe = make("svg", { class: "loupe", "aria-hidden": "true", viewBox: "0 0 10 10" }, make("image", { href: `${url}?side=2000`, width, height }), make("path", { class: "aim" }));
    loupe.style.visibility = "hidden";
    part(form, "stage").replaceChildren(svg, loupe);
    const now = held.get(form);
    now.svg = svg;
    now.loupe = loupe;
    // where the tool proposes nothing, the marks wait in the middle of the picture, and say that they do
    now.marks ??= { tip: [width / 2, height * 0.3], seat: [width / 2, height * 0.7] };
    now.line = make("line", { class: "mark-line" });
    svg.append(now.line);
    now.grips = Object.fromEntries(["tip", "seat"].map((name) => [name, grip(form, name)]));
    svg.append(...Object.values(now.grips));
    place(form);
    new ResizeObserver(() => place(form)).observe(svg);
  };
  const grip = (form, name) => {
    const words = name === "tip" ? "Tip of the nose" : "Seat of the nose, or the rim that hides it";
    const one = make("g", { class: "photo-mark", tabindex: 0, role: "slider", "aria-label": words, "data-mark": name });
    one.append(make("path", { class: "cross" }), make("line", { class: "leader" }), make("circle", { class: "hit" }), make("circle", { class: "grip" }), make("text", { "text-anchor": "middle" }));
    one.querySelector("text").textContent = name;
    return one;
  };
  // a grip stands beside its point, on the side where there is room, at the same size on any screen
  const place = (form) => {
    const { svg, grips, marks, line, width, height } = held.get(form);
    const wide = svg.getBoundingClientRect().width;
    if (!wide) return;
    const px = width / wide, far = 62 * px;
    const along = [marks.seat[0] - marks.tip[0], marks.seat[1] - marks.tip[1]];
    const long = Math.hypot(...along) || 1;
    let aside = [-along[1] / long, along[0] / long];
    const middle = [(marks.tip[0] + marks.seat[0]) / 2, (marks.tip[1] + marks.seat[1]) / 2];
    const inside = (way) => Math.min(middle[0] + way[0] * far, width - middle[0] - way[0] * far, middle[1] + way[1] * far, height - middle[1] - way[1] * far);
    if (inside(aside.map((n) => -n)) > inside(aside)) aside = aside.map((n) => -n);
    const set = (element, values) => Object.entries(values).forEach(([key, value]) => element.setAttribute(key, value));
    set(line, { x1: marks.tip[0], y1: marks.tip[1], x2: marks.seat[0], y2: marks.seat[1], "stroke-width": 1.5 * px });
    for (const [name, one] of Object.entries(grips)) {
      const [x, y] = marks[name], arm = 13 * px;
      const outward = (name === "tip" ? -1 : 1) * 14 * px;
      const gx = Math.min(Math.max(x + aside[0] * far + (along[0] / long) * outward, 24 * px), width - 24 * px);
      const gy = Math.min(Math.max(y + aside[1] * far + (along[1] / long) * outward, 24 * px), height - 24 * px);
      set(one.querySelector(".cross"), { d: `M${x - arm},${y}H${x + arm}M${x},${y - arm}V${y + arm}`, "stroke-width": 2 * px });
      set(one.querySelector(".leader"), { x1: x, y1: y, x2: gx, y2: gy, "stroke-width": 1.5 * px });
      set(one.querySelector(".hit"), { cx: gx, cy: gy, r: 34 * px });
      set(one.querySelector(".grip"), { cx: gx, cy: gy, r: 23 * px, "stroke-width": 2 * px });
      const text = one.querySelector("text");
      set(text, { x: gx, y: gy + 4.5 * px });
      text.style.fontSize = `${13 * px}px`;
      set(one, { "aria-valuetext": `${Math.round(x)} across, ${Math.round(y)} down, in pixels of the picture`, "aria-valuenow": Math.round(y), "aria-valuemin": 0, "aria-valuemax": height });
    }
  };
  const look = (form, name) => {
    const { loupe, marks, svg, width } = held.get(form);
    if (!name) return (loupe.style.visibility = "hidden");
    const [x, y] = marks[name], px = width / svg.getBoundingClientRect().width, half = 22 * px;
    loupe.setAttribute("viewBox", `${x - half} ${y - half} ${2 * half} ${2 * half}`);
    const aim = loupe.querySelector(".aim");
    aim.setAttribute("d", `M${x - half},${y}H${x + half}M${x},${y - half}V${y + half}`);
    aim.setAttribute("stroke-width", px * 0.5);
    loupe.style.visibility = "visible";
    // out of the finger's way: in the corner that is farther off
    loupe.classList.toggle("right", x < width / 2);
  };
  const move = (form, name, x, y) => {
    const now = held.get(form);
    now.marks[name] = [Math.min(Math.max(x, 0), now.width - 1), Math.min(Math.max(y, 0), now.height - 1)];
    now.touched = true;
    place(form);
  };

  // reading: the newest marks win, whatever order the answers come in
  let asked = 0;
  const measure = async (form) => {
    const turn = (asked += 1);
    const answer = await json("/_plug/photo/read", told(form));
    if (turn !== asked) return;
    if (answer.refused) return say(form, "refused", answer.refused);
    part(photoOf(form), "photo-said").querySelector(".refused")?.remove();
    part(form, "photo-result").innerHTML = answer.result;
  };
  const keep = async (form) => {
    const answer = await json("/_plug/photo/keep", told(form));
    say(form, answer.refused ? "refused" : "done", answer.refused ?? answer.saved);
  };
  const take = (form, values) => {
    for (const [name, value] of Object.entries(values)) form.elements[name].value = value;
    form.elements.ring_mm.dispatchEvent(new Event("input", { bubbles: true }));
    keep(form);
    form.querySelector(".reading").scrollIntoView({ block: "start" });
  };

  let finger = null;
  document.addEventListener("pointerdown", (event) => {
    const mark = event.target.closest?.(".photo-mark");
    const form = mark?.closest("form");
    if (!form || event.button > 0 || finger) return;
    const name = mark.dataset.mark, now = held.get(form);
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(now.svg.getScreenCTM().inverse());
    finger = { form, name, id: event.pointerId, off: [now.marks[name][0] - at.x, now.marks[name][1] - at.y] };
    mark.setPointerCapture(event.pointerId);
    event.preventDefault();
    mark.focus({ preventScroll: true });
    look(form, name);
  });
  document.addEventListener("pointermove", (event) => {
    if (finger?.id !== event.pointerId) return;
    const { form, name, off } = finger;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(held.get(form).svg.getScreenCTM().inverse());
    move(form, name, at.x + off[0], at.y + off[1]);
    look(form, name);
  });
  const letGo = (event) => {
    if (finger?.id !== event.pointerId) return;
    const { form } = finger;
    finger = null;
    look(form, null);
    if (held.get(form).touched) measure(form);
  };
  document.addEventListener("pointerup", letGo);
  document.addEventListener("pointercancel", letGo);
  let later = 0;
  document.addEventListener("keydown", (event) => {
    const mark = event.target.closest?.(".photo-mark");
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!mark || !way) return;
    event.preventDefault();
    const form = mark.closest("form"), name = mark.dataset.mark, now = held.get(form);
    const step = (event.shiftKey ? 10 : 1) * Math.max(1, now.width / 1000);
    move(form, name, now.marks[name][0] + way[0] * step, now.marks[name][1] + way[1] * step);
    look(form, name);
    clearTimeout(later);
    later = setTimeout(() => {
      look(form, null);
      measure(form);
    }, 600);
  });
  document.addEventListener("change", (event) => {
    const form = event.target.closest?.(".reading-form");
    if (!form) return;
    if (event.target.type === "file") {
      const [file] = event.target.files;
      if (file) send(form, file);
      event.target.value = "";  // the same picture can be chosen again
    } else if (event.target.name?.startsWith("photo_")) {
      part(form, "rim").hidden = typed(form, "photo_view") !== "magnifier";
      if (held.has(form)) measure(form);
    }
  });
  document.addEventListener("sootline:form", (event) => {
    part(event.target, "rim").hidden = typed(event.target, "photo_view") !== "magnifier";
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.(".photo-result button");
    if (!button) return;
    const form = button.closest("form");
    if (button.dataset.take) take(form, JSON.parse(button.dataset.take));
    else keep(form);
  });
})();
