// The alarm of the live page, on a dynamometer and never while riding: limits of the user's own, kept on this device,
// held against the same rows that are shown.
(() => {
  const live = (window.sootlineLive ??= {});
  const KEPT = "sootline-alarm";
  const SETTLED_S = 0.5; // after the throttle went full, the gas of before has passed the sensor
  const LASTS_S = 0.3; // a limit passed for so long is passed; a single odd reading is not
  const THROTTLE_S = 0.5; // a reading of the throttle holds for so long
  const SILENT_S = 1.5; // a channel without a reading for so long is not watched, and that is said
  const FRESH_S = 3; // what a page is given of the past on opening raises no alarm
  const STAYS_MS = 5000; // so long the banner stands at least
  const KINDS = [
    {
      key: "lambda",
      of: /^lambda(_\d+)?$/,
      label: "Lambda at full throttle leaner than",
      unit: "",
      range: [0.6, 1.6],
      full: true,
      name: "lambda",
      words: (who, limit) => `${who || "the engine"} leaner than lambda ${limit} at full throttle`,
      shown: (value) => value.toFixed(3),
    },
    {
      key: "egt",
      of: /^egt(_\d+)?$/,
      label: "Exhaust gas over, °C",
      unit: " °C",
      range: [100, 1300],
      name: "exhaust gas temperature",
      words: (who, limit) => `Exhaust gas${who ? ` of ${who}` : ""} over ${limit} °C`,
      shown: (value) => value.toFixed(0),
    },
    {
      key: "head",
      of: /^cht(_\d+)?$/,
      label: "Head temperature over, °C",
      unit: " °C",
      range: [40, 500],
      name: "head temperature",
      words: (who, limit) => `Head${who ? ` of ${who}` : ""} over ${limit} °C`,
      shown: (value) => value.toFixed(0),
    },
  ];
  const CAUTIONS = [
    "It is late: by the sensor's own delay, a few tenths of a second and with a long pipe more; a thermocouple by seconds. An engine can break before it.",
    "A second person stands at the kill switch. Never trust it alone: no alarm is no leave to go on.",
    "It works only while this page is in front and the device awake.",
  ];

  const few = (words) => (words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} and ${words[words.length - 1]}`);
  // whose values these are: nothing for the engine's only one
  const whose = (columns) => {
    const numbers = columns.filter((column) => column.cylinder !== null).map((column) => column.cylinder).sort((a, b) => a - b);
    return numbers.length === 0 ? "" : `${numbers.length > 1 ? "cylinders" : "cylinder"} ${few(numbers)}`;
  };
  const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);
  const kept = () => {
    try {
      return JSON.parse(localStorage.getItem(KEPT)) ?? {};
    } catch {
      return {};
    }
  };
  // a limit as typed: a number, null where nothing is, NaN where it is none
  const limitOf = (kind, text) => {
    const words = String(text ?? "").trim().replace(",", ".");
    if (words === "") return null;
    const value = Number(words);
    return value >= kind.range[0] && value <= kind.range[1] ? value : NaN;
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
      this.silent = ""; // the channels that tell nothing, as a key
      this.recording = false;
      this.blind = false;
      this.horn = new live.Horn();
      this.silenced = false;
      this.build();
    }

    build() {
      const { el } = live;
      this.said = el("div", { class: "alarm-said", role: "alert", "aria-live": "assertive", "aria-atomic": "true" });
      this.values = el("p", { class: "alarm-values", "aria-hidden": "true" });
      this.quiet = el("button", { type: "button", class: "alarm-button" }, "Silence");
      this.quiet.addEventListener("click", () => {
        this.silenced = true;
        this.horn.stop();
      });
      this.banner = el("div", { class: "alarm-banner" }, el("span", { class: "alarm-sign", "aria-hidden": "true" }, "!"), el("div", {}, this.said, this.values), this.quiet);
      this.banner.hidden = true;
      this.summary = el("summary", {}, "");
      this.check = el("input", { type: "checkbox", id: "alarm-dyno" });
      this.check.addEventListener("change", () => {
        sessionStorage.setItem(`sootline-dyno-${this.session}`, this.check.checked ? "yes" : "no");
        this.read();
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
      if (this.horn.context) this.horn.close();
      else {
        await this.horn.on();
        this.horn.start(); // to be heard once, so that it is known to work
        setTimeout(() => this.over.size || this.horn.stop(), 500);
      }
      const on = this.horn.context !== null;
      this.sound.setAttribute("aria-pressed", String(on));
      this.sound.textContent = on ? "Sound is on" : "Sound is off";
    }

    // what the fields say now; limits stay on this device
    read() {
      localStorage.setItem(KEPT, JSON.stringify(Object.fromEntries(this.fields.map((field) => [field.kind.key, field.input.value]))));
      for (const { kind, input, amiss } of this.fields) {
        const limit = limitOf(kind, input.value);
        const none = Number.isNaN(limit);
        input.setAttribute("aria-invalid", String(none));
        amiss.textContent = none ? `No limit: give ${kind.range[0]} to ${kind.range[1]}. Nothing is watched by it.` : "";
        this.limits[kind.key] = none ? null : limit;
      }
      this.forget();
      this.tellWatched();
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
          if (value !== null && value !== false) this.read_at.set(column.name, t);
          if (column.kind && value !== null) this.hold(column, t, value);
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
      for (const [name, one] of this.over) if (time > one.until) this.over.delete(name);
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
      const key = names.join(" ");
      if (key !== this.shown) {
        this.shown = key;
        this.banner.hidden = names.length === 0;
        // the words that are read aloud stand still; the numbers beside them move unread
        this.said.replaceChildren(...(names.length ? [live.el("strong", {}, "Alarm. Close the throttle."), ...this.sentences().map((words) => live.el("span", {}, ` ${words}`))] : []));
        document.title = names.length ? "ALARM" : "Sootline";
      }
      if (names.length) {
        this.values.textContent = names.map((name) => {
          const { column, value, worst } = this.over.get(name);
          const { shown, unit } = column.kind;
          return `${column.cylinder === null ? "" : `${column.cylinder}: `}${shown(value)}${unit} (most ${shown(worst)})`;
        }).join(" · ");
        this.last.textContent = `Last alarm ${this.at.toLocaleTimeString([], { hour12: false })}: ${this.sentences().join(" ")}`;
        this.quiet.hidden = !this.horn.ready || this.silenced;
        if (!this.silenced) this.horn.start();
      } else this.horn.stop();
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
      this.horn.close();
      if (this.shown) document.title = "Sootline";
    }
  };
})();
