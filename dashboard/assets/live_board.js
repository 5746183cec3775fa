// The big numbers and their traces: the trace of each quantity runs into the number that holds now.
(() => {
  const live = (window.sootlineLive ??= {});
  const BLANK = "–";
  const WIDTHS = [2.6, 1.3, 2, 0.9]; // of the lines of one picture, for eyes that see no colours
  const SHORTEST_HOLD_S = 0.35; // an empty line or two is no missing sensor
  const PERIODS = 3; // a channel is missing after so many of its own periods (the wire format's rule)

  const grouped = (live.grouped = (number) => String(Math.round(number)).replace(/\B(?=(\d{3})+$)/g, " "));
  const ROWS = [
    {
      key: "mixture",
      of: (column) => /^lambda(_\d+)?$/.test(column.name),
      name: () => "Mixture",
      words: (value, board) => (board.afr() ? (value * board.stoich()).toFixed(1) : value.toFixed(2)),
      ends: [" rich", " lean"],
      spec: { range: [0.7, 1.3], line: 1, namesMarks: true },
      odd: (value, board) => (value > board.fires[1] ? "air, no mixture" : value < board.fires[0] ? "off range" : null),
    },
    {
      key: "heat",
      of: (column) => /^egt(_\d+)?$/.test(column.name),
      name: () => "Exhaust gas, °C",
      words: (value) => value.toFixed(0),
      spec: { span: 300, step: 100 },
    },
    {
      key: "revs",
      of: (column) => column.name === "rpm",
      name: () => "Revs, 1/min",
      words: (value) => grouped(Math.round(value / 10) * 10),
      spec: { floor: 0, span: 6000, step: 2000 },
    },
    {
      key: "throttle",
      of: (column) => column.name === "throttle",
      name: () => "Throttle, %",
      words: (value) => Math.max(0, Math.round(value)).toFixed(0),
      spec: { range: [0, 100] },
    },
  ];

  live.Board = class {
    // fires: the lambdas between which a charge can burn at all
    constructor(host, colours, fires) {
      this.host = host;
      this.colours = colours;
      this.fires = fires;
      this.columns = [];
      this.rows = [];
      this.states = {};
      this.marks = [];
      this.fuel = null;
      this.times = [];
      this.onPreference = () => {};
    }

    afr() {
      return localStorage.getItem("sootline-mixture") === "afr" && this.fuel !== null;
    }

    stoich() {
      return this.fuel.stoich;
    }

    // What the values of the coming rows stand for. Minutes of channels that stay are kept.
    lay(columns) {
      const had = new Map(this.columns.map((column) => [column.name, column]));
      this.columns = columns.map((told) => {
        const hold = Math.max(SHORTEST_HOLD_S, told.rate ? PERIODS / told.rate : 0);
        const old = had.get(told.name);
        return { ...told, hold, minute: old?.minute ?? new live.Minute(hold), value: old?.value ?? null, t: old?.t ?? -1e9 };
      });
      const { el } = live;
      this.rows = ROWS.map((kind) => this.row(kind, this.columns.filter(kind.of))).filter((row) => row !== null);
      const named = new Set(this.rows.flatMap((row) => row.cells.map((cell) => cell.column)));
      this.others = this.columns.filter((column) => !named.has(column)).map((column) => {
        const text = document.createTextNode(BLANK);
        const unit = column.unit === "1" ? "" : { Cel: "°C", "/min": "1/min" }[column.unit] ?? column.unit;
        return { column, text, box: el("div", {}, el("dt", {}, column.label), el("dd", {}, text, el("span", { class: "quiet" }, ` ${unit}`))) };
      });
      this.host.replaceChildren(
        ...this.rows.map((row) => row.box),
        el(
          "div",
          { class: "live-axis", "aria-hidden": "true" },
          el("p", {}, el("span", {}, "a minute ago"), el("span", {}, "30 s"), el("span", {}, "now")),
        ),
        this.others.length ? el("dl", { class: "live-others" }, ...this.others.map((other) => other.box)) : "",
      );
    }

    row(kind, columns) {
      if (columns.length === 0) return null;
      const { el } = live;
      columns.sort((a, b) => (a.cylinder ?? 0) - (b.cylinder ?? 0));
      const name = document.createTextNode("");
      const high = document.createTextNode("");
      const low = document.createTextNode("");
      const canvas = el("canvas", { role: "img" });
      const cells = columns.map((column, number) => {
        const text = document.createTextNode(BLANK);
        const state = document.createTextNode("");
        // upright, and not where there is one line only: a stroke before a number reads as a minus
        const several = columns.length > 1;
        const sample = el("span", { class: `live-sample wide-${number % WIDTHS.length}`, "aria-hidden": "true", hidden: !several });
        const which = several && column.cylinder !== null ? String(column.cylinder) : "";
        const box = el(
          "div",
          { class: "live-number" },
          el("span", { class: "live-which" }, sample, which ? el("span", { class: "unseen" }, "cylinder ") : null, which),
          el("span", { class: "live-value", "data-channel": column.name }, text),
          el("span", { class: "live-state" }, state),
        );
        return { column, text, state, box, sample, number };
      });
      const isMixture = kind.key === "mixture";
      const under = document.createTextNode("");
      const box = el(
        "section",
        { class: `live-row live-${kind.key} of-${Math.min(4, columns.length)}` },
        el(
          "div",
          { class: "live-name" },
          el("h2", {}, name),
          isMixture ? this.preference() : null,
          isMixture ? el("p", { class: "quiet" }, under) : null,
        ),
        el("div", { class: "live-trace" }, canvas, el("span", { class: "live-high" }, high), el("span", { class: "live-low" }, low)),
        el("div", { class: "live-numbers" }, ...cells.map((cell) => cell.box)),
      );
      return { kind: { ...kind, spec: { ...kind.spec } }, cells, canvas, box, name, under, high, low };
    }

    preference() {
      const { el } = live;
      const buttons = ["Lambda", "AFR"].map((words) => {
        const made = el("button", { type: "button" }, words);
        made.addEventListener("click", () => {
          localStorage.setItem("sootline-mixture", words.toLowerCase());
          this.onPreference();
        });
        return made;
      });
      this.buttons = buttons;
      return el("div", { class: "live-choice", role: "group", "aria-label": "The mixture as" }, ...buttons);
    }

    take(rows) {
      for (const [t, ...values] of rows) {
        this.times.push(t);
        for (let i = 0; i < values.length; i++) {
          const value = values[i];
          if (value === null) continue;
          const column = this.columns[i];
          column.minute.add(t, value);
          column.value = value;
          column.t = t;
        }
      }
      if (this.times.length > 40) this.times = this.times.slice(-40);
    }

    // Typical time between lines, which says when one is overdue [s].
    period() {
      const n = this.times.length;
      return n < 2 ? 0 : (this.times[n - 1] - this.times[0]) / (n - 1);
    }

    // asked of the page only when it has changed between light and dark
    ink(scheme) {
      if (this.inked !== scheme) {
        const style = getComputedStyle(document.documentElement);
        const told = (name) => style.getPropertyValue(`--${name}`).trim();
        this.inked = scheme;
        this.inks = { ink: told("ink"), quiet: told("quiet"), hair: told("line"), ground: told("ground"), font: told("serif") };
      }
      return this.inks;
    }

    draw(now, stale) {
      const scheme = document.documentElement.dataset.mantineColorScheme === "dark" ? "dark" : "light";
      const ink = this.ink(scheme);
      const hold = PERIODS * this.period();
      for (const row of this.rows) {
        const palette = this.colours[scheme][{ mixture: "mixture", heat: "heat" }[row.kind.key] ?? "other"];
        const lines = row.cells.map((cell) => ({
          minute: cell.column.minute,
          colour: palette[cell.number % palette.length],
          width: WIDTHS[cell.number % WIDTHS.length],
        }));
        const [low, high] = live.draw(row.canvas, row.kind.spec, lines, this.marks, now, ink);
        put(row.low, row.kind.words(low, this) + (row.kind.ends?.[0] ?? ""));
        put(row.high, row.kind.words(high, this) + (row.kind.ends?.[1] ?? ""));
        put(row.name, row.kind.name(this));
        row.cells.forEach((cell, i) => {
          if (cell.colour !== lines[i].colour) cell.sample.style.color = cell.colour = lines[i].colour;
          this.show(cell, row.kind, now, stale, Math.max(cell.column.hold, hold));
        });
        if (row.kind.key === "mixture") this.showPreference(row);
      }
      for (const { column, text } of this.others ?? []) {
        const good = !stale && typeof column.value === "number" && now - column.t <= Math.max(column.hold, hold);
        put(text, good ? column.value.toFixed(Math.min(2, column.decimals)) : BLANK);
      }
    }

    show(cell, kind, now, stale, hold) {
      const { column } = cell;
      const state = this.states[column.name];
      const out = column.value === false;
      const here = !stale && !out && column.value !== null && now - column.t <= hold && (state === undefined || state === "ready");
      put(cell.text, here ? kind.words(column.value, this) : BLANK);
      const odd = here ? (kind.odd?.(column.value, this) ?? null) : null;
      const words = stale ? "" : state !== undefined && state !== "ready" ? state : out ? "out of limits" : here ? odd ?? state ?? "" : "no reading";
      put(cell.state, words);
      cell.box.classList.toggle("amiss", !here);
      cell.box.classList.toggle("odd", odd !== null);
    }

    showPreference(row) {
      const afr = this.afr();
      this.buttons.forEach((button, i) => button.setAttribute("aria-pressed", String(afr === (i === 1))));
      const { fuel } = this;
      put(row.under, afr ? `AFR of ${fuel.name}, ${fuel.stoich.toFixed(2)} : 1${fuel.assumed ? "; no fuel written down" : ""}` : "");
    }
  };

  const put = (node, words) => {
    if (node.data !== words) node.data = words;
  };
})();
