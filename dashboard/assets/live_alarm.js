// The alarm of the live page, on a dynamometer and never while riding: limits of the user's own, kept on this device,
// held against the same rows that are shown.
(() => {
  const live = (window.sootlineLive ??= {});
  const { KINDS, whose, capital, limitOf } = live.limits;
  const KEPT = "sootline-alarm";
  const SETTLED_S = 0.5; // after the throttle went full, the gas of before has passed the sensor
  const LASTS_S = 0.3; // a limit passed for so long is passed; a single odd reading is not
  const THROTTLE_S = 0.5; // a reading of the throttle holds for so long
  const SILENT_S = 1.5; // a channel without a reading for so long is not watched, and that is said
  const FRESH_S = 3; // what a page is given of the past on opening raises no alarm
  const STAYS_MS = 5000; // so long the banner stands at least
  const TRIAL_MS = 500; // so long the horn is heard when it is turned on, so that it is known to work
  const CAUTIONS = [
    "It is late: by the sensor's own delay, a few tenths of a second and with a long pipe more; a thermocouple by seconds. An engine can break before it.",
    "A second person stands at the kill switch. Never trust it alone: no alarm is no leave to go on.",
    "It works only while this page is in front and the device awake.",
  ];

  const kept = () => {
    try {
      return JSON.parse(localStorage.getItem(KEPT)) ?? {};
    } catch {
      return {};
    }
  };

  live.Alarm = class {
    // edges: {full, notFull}, the throttle openings between which full throttle begins and ends [%]
    constructor(session, edges) {
      this.session = session;
      this.edges = edges;
      this.limits = {};
      this.seen = new Map(); // by channel: since when its limit is passed [s]
      this.over = new Map(); // by channel: {words, value, worst, at, until}
      this.full = null; // since when the throttle is full [s]
      this.throttle = null; // {t, value}
      this.columns = [];
      this.states = {};
      this.read_at = new Map(); // by channel: its last reading [s]
      this.unread = new Set(); // the channels whose last value was no reading
      this.silent = ""; // the channels that tell nothing, as a key
      this.recording = false;
      this.blind = false;
      this.horn = new live.Horn(() => this.tellSound());
      this.silenced = false;
      this.trial = 0; // the timer that ends the horn's trial
      this.build();
    }

    build() {
      const { el } = live;
      this.said = el("div", { class: "alarm-said", role: "alert", "aria-live": "assertive", "aria-atomic": "true" });
      this.values = el("p", { class: "alarm-values", "aria-hidden": "true" });
      this.quiet = el("button", { type: "button", class: "alarm-button" }, "Silence");
      this.quiet.addEventListener("click", () => {
        this.silenced = true;
        this.show();
      });
      this.banner = el("div", { class: "alarm-banner" }, el("span", { class: "alarm-sign", "aria-hidden": "true" }, "!"), el("div", {}, this.said, this.values), this.quiet);
      this.banner.hidden = true;
      this.summary = el("summary", {}, "");
      this.check = el("input", { type: "checkbox", id: "alarm-dyno" });
      this.check.addEventListener("change", () => {
        this.read();
        sessionStorage.setItem(`sootline-dyno-${this.session}`, this.check.checked ? "yes" : "no");
      });
      const held = kept();
      this.fields = KINDS.map((kind) => {
        const id = `alarm-${kind.key}`;
        const input = el("input", { type: "text", id, inputmode: "decimal", autocomplete: "off", "aria-describedby": `${id}-amiss` });
        input.value = held[kind.key] ?? "";
        input.addEventListener("input", () => this.read());
        const amiss = el("p", { class: "alarm-amiss", id: `${id}-amiss`, role: "status" });
        return { kind, input, amiss, box: el("div", { class: "live-field" }, el("label", { for: id }, kind.label), input, amiss) };
      });
      this.sound = el("button", { type: "button", class: "alarm-button", "aria-pressed": "false" }, "Sound is off");
      this.sound.addEventListener("click", () => this.turnSound());
      this.watched = el("p", { class: "alarm-watched", role: "status" });
      this.last = el("p", { class: "quiet" });
      this.set = el(
        "details",
        { class: "alarm-set" },
        this.summary,
        el("div", { class: "alarm-check" }, this.check, el("label", { for: "alarm-dyno" }, "This recording is on a dynamometer, never while riding")),
        el("div", { class: "alarm-fields" }, ...this.fields.map((field) => field.box), this.sound),
        this.watched,
        this.last,
        el("aside", { class: "caution", "aria-label": "Cautions of the alarm" }, el("h3", {}, "Caution"), ...CAUTIONS.map((words) => el("p", {}, words))),
      );
      this.read();
    }

    async turnSound() {
      if (this.horn.ready) this.horn.close();
      else {
        await this.horn.on();
        clearTimeout(this.trial);
        this.trial = setTimeout(() => {
          this.trial = 0;
          this.show();
        }, TRIAL_MS);
      }
      this.tellSound();
    }

    // the browser may suspend what was turned on: said as it is now, and heard again when it may be
    tellSound() {
      const on = this.horn.ready;
      this.sound.setAttribute("aria-pressed", String(on));
      this.sound.textContent = on ? "Sound is on" : "Sound is off";
      this.show();
    }

    // what the fields say now; limits stay on this device
    read() {
      for (const { kind, input, amiss } of this.fields) {
        const limit = limitOf(kind, input.value);
        const none = Number.isNaN(limit);
        input.setAttribute("aria-invalid", String(none));
        amiss.textContent = none ? `No limit: give ${kind.range[0]} to ${kind.range[1]}. Nothing is watched by it.` : "";
        this.limits[kind.key] = none ? null : limit;
      }
      this.forget();
      this.tellWatched();
      try {
        localStorage.setItem(KEPT, JSON.stringify(Object.fromEntries(this.fields.map((field) => [field.kind.key, field.input.value]))));
      } catch {
        // a full storage: the limits hold until the page is left
      }
    }

    forget() {
      this.seen.clear();
      this.over.clear();
      this.show();
    }

    about(status) {
      this.recording = status.recording;
      this.states = Object.fromEntries(status.sensors.map((sensor) => [sensor.part, sensor.state]));
      if (this.kind !== status.kind) {
        this.kind = status.kind;
        const said = sessionStorage.getItem(`sootline-dyno-${this.session}`);
        this.check.checked = said === null ? status.kind === "dyno" : said === "yes";
      }
      if (!this.recording && this.over.size) this.forget();
      this.tellWatched();
    }

    // a channel that a limit needs
    wanted(column) {
      if (column.name === "throttle") return this.limits.lambda !== null;
      return column.kind !== null && this.limits[column.kind.key] !== null;
    }

    tellsNothing(column, now) {
      const last = this.read_at.get(column.name);
      return last === undefined || now - last > Math.max(SILENT_S, column.rate ? 3 / column.rate : 0);
    }

    // its own sensor is silent, out of its range or not ready; with the throttle closed lambda's limit is kept anyway
    lost(column, now) {
      if (column.kind.full && this.full === null) return false;
      const state = this.states[column.name];
      return this.unread.has(column.name) || (state !== undefined && state !== "ready") || this.tellsNothing(column, now);
    }

    get armed() {
      return this.recording && this.check.checked && KINDS.some((kind) => this.limits[kind.key] !== null);
    }

    lay(columns) {
      this.columns = columns.map((column) => ({ ...column, kind: KINDS.find((kind) => kind.of.test(column.name)) ?? null }));
      const rate = columns.find((column) => column.name === "throttle")?.rate;
      this.throttleHolds = rate ? Math.max(THROTTLE_S, 3 / rate) : THROTTLE_S;
      this.seen.clear();
      this.tellWatched();
    }

    // Every row is held against the limits, not only those that a picture was made of.
    take(rows, now) {
      if (!this.armed) return;
      const at = this.columns.findIndex((column) => column.name === "throttle");
      for (const [t, ...values] of rows) {
        if (now - t > FRESH_S) continue;
        if (at >= 0 && values[at] !== null) this.open(t, values[at]);
        this.columns.forEach((column, i) => {
          const value = values[i] ?? null;
          if (value === null) return;
          if (value === false) this.unread.add(column.name);
          else {
            this.unread.delete(column.name);
            this.read_at.set(column.name, t);
          }
          if (column.kind) this.hold(column, t, value);
        });
      }
      this.show();
    }

    open(t, value) {
      this.throttle = { t, value };
      if (value === false || value < this.edges.notFull) this.full = null;
      else if (value >= this.edges.full) this.full ??= t;
    }

    hold(column, t, value) {
      const { kind, name } = column;
      const limit = this.limits[kind.key];
      if (limit === null) return;
      const state = this.states[name];
      const sees = value !== false && (state === undefined || state === "ready");
      const counts = !kind.full || (this.full !== null && t - this.full >= SETTLED_S && t - this.throttle.t <= this.throttleHolds);
      if (!sees || !counts || value <= limit) {
        this.seen.delete(name);
        return;
      }
      if (!this.seen.has(name)) this.seen.set(name, t);
      if (t - this.seen.get(name) < LASTS_S) return;
      const now = performance.now();
      const had = this.over.get(name);
      const worst = Math.max(had?.worst ?? value, value);
      if (!had) {
        this.silenced = false;
        this.at = new Date();
      }
      this.over.set(name, { column, value, worst, until: now + STAYS_MS });
    }

    // called with every look at the words: what is past goes, what is missing is said
    look(stale, now) {
      const time = performance.now();
      for (const [name, one] of this.over) {
        if (stale || this.lost(one.column, now)) one.until = time + STAYS_MS; // nothing says that it is over
        else if (time > one.until) this.over.delete(name);
      }
      const blind = this.armed && stale;
      const silent = this.armed && now !== null ? this.columns.filter((column) => this.wanted(column) && this.tellsNothing(column, now)).map((column) => column.name).join(" ") : "";
      if (blind !== this.blind || silent !== this.silent) {
        [this.blind, this.silent] = [blind, silent];
        this.tellWatched();
      }
      this.show();
    }

    // one sentence for each limit that is passed
    sentences() {
      return KINDS.map((kind) => {
        const columns = [...this.over.values()].map((one) => one.column).filter((column) => column.kind === kind);
        return columns.length ? `${capital(kind.words(whose(columns), this.limits[kind.key]))}.` : null;
      }).filter((words) => words !== null);
    }

    show() {
      const names = [...this.over.keys()].sort();
      const key = names.length && this.blind ? `${names.join(" ")} blind` : names.join(" ");
      if (key !== this.shown) {
        this.shown = key;
        this.banner.hidden = names.length === 0;
        // the words that are read aloud stand still; the numbers beside them move unread
        const said = this.blind ? [...this.sentences(), "No lines come: nothing says that it is over."] : this.sentences();
        this.said.replaceChildren(...(names.length ? [live.el("strong", {}, "Alarm. Close the throttle."), ...said.map((words) => live.el("span", {}, ` ${words}`))] : []));
        document.title = names.length ? "ALARM" : "Sootline";
      }
      if (names.length) {
        this.values.textContent = names.map((name) => {
          const { column, value, worst } = this.over.get(name);
          const { shown, unit } = column.kind;
          return `${column.cylinder === null ? "" : `${column.cylinder}: `}${this.blind ? "last " : ""}${shown(value)}${unit} (most ${shown(worst)})`;
        }).join(" · ");
        this.last.textContent = `Last alarm ${this.at.toLocaleTimeString([], { hour12: false })}: ${this.sentences().join(" ")}`;
        this.quiet.hidden = !this.horn.ready || this.silenced;
      }
      if (this.trial || (names.length && !this.silenced)) this.horn.start();
      else this.horn.stop();
    }

    tellWatched() {
      const watched = [];
      const not = [];
      for (const kind of KINDS) {
        const limit = this.limits[kind.key];
        if (limit === null) continue;
        const own = this.columns.filter((column) => column.kind === kind);
        const labels = `${kind.name}${whose(own) && ` of ${whose(own)}`}`;
        if (own.length === 0) not.push(`${kind.name} is not recorded`);
        else if (kind.full && !this.columns.some((column) => column.name === "throttle")) not.push("lambda, since the throttle is not recorded");
        else watched.push(kind.full ? `${labels}, leaner than ${limit} at full throttle (from ${this.edges.full} %)` : `${labels}, over ${limit} °C`);
        for (const column of own) {
          const state = this.states[column.name];
          if (state !== undefined && state !== "ready") not.push(`${column.label.toLowerCase()} is ${state}`);
        }
      }
      for (const name of this.silent.split(" ").filter((part) => part)) {
        const column = this.columns.find((one) => one.name === name);
        const state = this.states[name];
        if (column && (state === undefined || state === "ready")) not.push(`${column.label.toLowerCase()} has no reading`);
      }
      const none = KINDS.every((kind) => this.limits[kind.key] === null);
      const ride = this.kind && this.kind !== "dyno" ? ` This session is written down as ${this.kind}.` : "";
      let words = `It watches ${watched.join("; ") || "nothing"}.${not.length ? ` Not watched: ${not.join("; ")}.` : ""}`;
      let state = "watching";
      if (!this.recording) [words, state] = ["Nothing is being recorded.", "off"];
      else if (!this.check.checked) [words, state] = [`Off: it is for a dynamometer alone, never for riding.${ride}`, "off"];
      else if (none) [words, state] = ["Off: no limit is set. Nobody but you knows this engine's limits, so none is given.", "off"];
      else if (this.blind) [words, state] = ["BLIND: no lines come, so it can see nothing.", "BLIND"];
      else if (watched.length === 0) state = "watching NOTHING";
      else if (not.length) state = "watching in part";
      if (this.watched.textContent !== words) this.watched.textContent = words;
      const head = `Alarm on a dynamometer: ${state}`;
      if (this.summary.textContent !== head) this.summary.textContent = head;
      this.set.dataset.state = state;
    }

    close() {
      clearTimeout(this.trial);
      this.horn.close();
      if (this.shown) document.title = "Sootline";
    }
  };
})();
