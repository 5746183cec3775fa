// Where nothing is being recorded: which port, which bike, where, and the button that starts the recorder.
(() => {
  const live = (window.sootlineLive ??= {});

  live.el = (tag, attributes = {}, ...children) => {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (value !== null && value !== undefined && value !== false) made.setAttribute(name, value === true ? "" : value);
    }
    made.append(...children.filter((child) => child !== null && child !== undefined));
    return made;
  };

  live.ask = async (path, body) => {
    const options = body === undefined ? {} : {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
    };
    const answer = await fetch(`/_live/${path}`, options);
    if (!answer.ok) throw new Error(String(answer.status));
    return answer.json();
  };

  live.sentence = (words) => {
    const text = words.trim();
    return text.charAt(0).toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? "" : ".");
  };

  const field = (words, hint, control) => {
    control.id = `live-${words.toLowerCase()}`;
    return live.el(
      "div",
      { class: "live-field" },
      live.el("label", { for: control.id }, words),
      hint ? live.el("p", { class: "hint" }, hint) : null,
      control,
    );
  };

  // Fills the host; begun(session) is called when a recording runs, started here or anywhere else.
  live.desk = (host, begun) => {
    const { el } = live;
    let over = false;
    let timer = 0;
    let busy = false;
    let listed = "";
    const ports = el("div", { class: "live-ports", role: "group", "aria-label": "Ports of this machine" });
    const port = el("input", { type: "text", autocomplete: "off", autocapitalize: "off", spellcheck: "false" });
    const bike = el("select", {}, el("option", { value: "" }, "no bike named"));
    const place = el("input", { type: "text", autocomplete: "off", maxlength: "200" });
    const button = el("button", { type: "submit", class: "live-button live-start" }, "Start recording");
    const said = el("p", { class: "live-refused", role: "alert", hidden: true });
    const form = el(
      "form",
      { class: "live-desk" },
      el("p", { class: "lede" }, "Nothing is being recorded. The recorder runs by itself: closing this page does not end it."),
      field("Port", "Choose one, or type its name or a network address.", port),
      field("Bike", null, bike),
      field("Place", null, place),
      said,
      button,
    );
    port.before(ports);
    host.replaceChildren(form);

    const choose = (device) => {
      port.value = device;
      for (const other of ports.children) other.setAttribute("aria-pressed", String(other.dataset.device === device));
    };
    port.addEventListener("input", () => choose(port.value));

    const list = (found) => {
      const key = JSON.stringify(found.ports);
      if (key === listed) return;
      listed = key;
      ports.replaceChildren(
        ...found.ports.map((one) => {
          const made = el(
            "button",
            { type: "button", class: "live-port", "data-device": one.device, "aria-pressed": "false" },
            el("span", {}, one.device),
            one.description && one.description !== "n/a" ? el("span", { class: "quiet" }, one.description) : null,
          );
          made.addEventListener("click", () => choose(one.device));
          return made;
        }),
      );
      ports.hidden = found.ports.length === 0;
      // nothing is put under the hands of somebody who types
      const untouched = !port.value && document.activeElement !== port;
      choose(untouched && found.ports.length === 1 ? found.ports[0].device : port.value);
    };

    const touched = new Set();
    for (const one of [bike, place]) one.addEventListener("input", () => touched.add(one));
    let first = true;
    let known;
    const answered = new Promise((resolve) => (known = resolve));
    const look = async () => {
      try {
        const found = await live.ask("desk");
        if (over) return;
        if (found.recordings && found.recordings.length && !busy) return begun(found.recordings[0].session);
        if (found.refused) throw new Error(found.refused);
        list(found);
        if (first) {
          bike.append(...found.bikes.map((name) => el("option", { value: name }, name)));
          // the answer may come after the first words were typed
          if (!touched.has(bike)) bike.value = found.bike ?? "";
          if (!touched.has(place)) place.value = found.place ?? "";
          first = false;
          known();
        }
      } catch (error) {
        // the dashboard is away, or the logbook busy: asked again
      }
      if (!over) timer = setTimeout(look, 2000);
    };
    look();

    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      if (busy) return;
      busy = true;
      said.hidden = true;
      button.textContent = "Starting …";
      button.disabled = true;
      // whoever is quicker than the first answer still records for the usual bike
      await Promise.race([answered, new Promise((resolve) => setTimeout(resolve, 3000))]);
      let answer;
      try {
        answer = await live.ask("start", { port: port.value, bike: bike.value, place: place.value });
      } catch (error) {
        answer = { refused: "the dashboard did not answer; is it still running?" };
      }
      busy = false;
      if (over) return;
      button.textContent = "Start recording";
      button.disabled = false;
      if (answer.session) return begun(answer.session);
      said.textContent = live.sentence(answer.refused ?? "The recorder did not begin.");
      said.hidden = false;
    });

    return {
      close: () => {
        over = true;
        clearTimeout(timer);
      },
    };
  };
})();
