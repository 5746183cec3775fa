// The reading form: what is typed is kept on this device until it is written down, whatever happens to the connection.
(() => {
  const DRAFT = "sootline-draft";
  const part = (form, name) => form.querySelector(`[data-part="${name}"]`);
  const read = (form) => Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  const keyOf = (form) => [DRAFT, form.dataset.session, form.dataset.fitting, form.dataset.label].join("|");
  const token = () => [...crypto.getRandomValues(new Uint8Array(12))].map((n) => n.toString(16).padStart(2, "0")).join("");
  const first = new WeakMap();

  const kept = (form) => {
    try {
      return JSON.parse(localStorage.getItem(keyOf(form)));
    } catch {
      return null;
    }
  };
  const keep = (form) => {
    const values = read(form);
    try {
      if (same(values, first.get(form).values)) return localStorage.removeItem(keyOf(form));
      const draft = { values, at: Date.now(), reading: form.dataset.reading, token: first.get(form).token };
      localStorage.setItem(keyOf(form), JSON.stringify(draft));
    } catch {
      // a browser that keeps nothing (private window, full): the form still holds it
    }
  };
  const drop = (form) => {
    try {
      localStorage.removeItem(keyOf(form));
    } catch {
      // as above
    }
  };
  const fill = (form, values) => {
    for (const [name, value] of Object.entries(values)) {
      const field = form.elements[name];
      if (field) field.value = value;
    }
  };

  // what each chosen mark may indicate, and the stop
  const typed = (form, name) => (form.elements[name]?.value ?? "").trim();
  const holds = (form, one) => {
    const value = typed(form, one.dataset.when);
    if (value === "") return false;
    if (one.dataset.is !== undefined) return value === one.dataset.is;
    if (one.dataset.over === undefined && one.dataset.under === undefined) return true;
    const number = Number(value.replace(",", "."));
    const { over, under } = one.dataset;
    // the bend has both ends and holds on them; beyond them the others do
    if (over !== undefined && under !== undefined) return number >= Number(over) && number <= Number(under);
    return over !== undefined ? number > Number(over) : number < Number(under);
  };
  const refresh = (form) => {
    form.querySelectorAll(".means").forEach((one) => {
      one.hidden = !holds(form, one);
    });
    const stop = part(form, "stop"), wanted = form.elements.specks.value === "aluminium";
    if (stop.hidden === wanted) {
      stop.hidden = !wanted;
      stop.textContent = wanted ? form.dataset.stop : "";
    }
    form.dispatchEvent(new CustomEvent("sootline:form", { bubbles: true }));
  };

  const say = (form, kind, words) => {
    const line = document.createElement("p");
    line.className = kind;
    line.textContent = words;
    part(form, "answer").replaceChildren(line);
  };
  const quiet = (form) => part(form, "answer").replaceChildren();

  const offerDraft = (form, draft) => {
    const at = new Date(draft.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    const day = new Date(draft.at).toDateString() === new Date().toDateString() ? "" : `${new Date(draft.at).toLocaleDateString()}, `;
    const other = draft.reading === form.dataset.reading ? "" : " Since then another reading of this plug was written down.";
    const words = document.createElement("p");
    words.textContent = `This is a draft of ${day}${at}, not written down yet.${other}`;
    const away = document.createElement("button");
    away.type = "button";
    away.className = "quiet-button";
    away.textContent = "Throw the draft away";
    away.addEventListener("click", () => {
      drop(form);
      fill(form, first.get(form).values);
      part(form, "draft").hidden = true;
      refresh(form);
    });
    part(form, "draft").replaceChildren(words, away);
    part(form, "draft").hidden = false;
  };

  const begin = (form) => {
    first.set(form, { values: read(form), token: token() });
    const draft = kept(form);
    if (draft && !same(draft.values, first.get(form).values)) {
      fill(form, draft.values);
      first.get(form).token = draft.token ?? token();
      offerDraft(form, draft);
      const changed = ([name, value]) => value !== first.get(form).values[name] && form.querySelector(`.rest [name="${name}"]`);
      if (Object.entries(draft.values).some(changed)) form.querySelector(".rest").open = true;
    }
    refresh(form);
  };

  // sent: what was written down; what was typed while it was on its way is not, and becomes a draft
  const written = (form, answer, sent) => {
    first.set(form, { values: sent, token: token() });
    form.dataset.reading = answer.reading;
    keep(form);
    part(form, "draft").hidden = true;
    if (!same(read(form), sent)) offerDraft(form, { at: Date.now(), reading: form.dataset.reading });
    form.querySelector(".save").textContent = "Write a corrected reading";
    say(form, "done", answer.saved);
    const tells = form.closest("[data-tells]")?.dataset.tells;
    if (tells) window.dash_clientside.set_props(tells, { data: answer.reading });
  };
  const LOST =
    "Not written down: the dashboard cannot be reached. All that you entered stays here and on this device; tap again when the connection is back.";
  const send = async (form) => {
    const button = form.querySelector(".save");
    if (button.disabled) return;
    keep(form);
    button.disabled = true;
    quiet(form);
    const { label, session } = form.dataset;
    const sent = read(form);
    const body = JSON.stringify({ label, session: Number(session), token: first.get(form).token, values: sent });
    try {
      const reply = await fetch("/_plug/reading", {
        method: "POST",
        headers: { "content-type": "application/json" },
        body,
        signal: AbortSignal.timeout(20000),
      });
      const answer = reply.ok ? await reply.json() : { refused: `Not written down: ${await reply.text()} All that you entered stays here.` };
      if (answer.refused) say(form, "refused", answer.refused);
      else written(form, answer, sent);
    } catch {
      say(form, "refused", LOST);
    } finally {
      button.disabled = false;
    }
  };

  document.addEventListener("sootline:filled", (event) => {
    event.target.querySelectorAll(".reading-form").forEach(begin);
  });
  for (const kind of ["input", "change"])
    document.addEventListener(kind, (event) => {
      const form = event.target.closest?.(".reading-form");
      if (!form || !first.has(form) || event.target.type === "file") return;
      keep(form);
      quiet(form);
      refresh(form);
    });
  document.addEventListener("submit", (event) => {
    if (!event.target.classList.contains("reading-form")) return;
    event.preventDefault();
    send(event.target);
  });
})();
