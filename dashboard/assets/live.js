// The live page: mounts itself where dashboard/pages/live.py has put its host, and leaves with it.
(() => {
  const live = (window.sootlineLive ??= {});
  const STALE_S = 1; // the age from which numbers are old
  const STOP_S = 4; // within which stopping wants its second tap
  const WORDS_MS = 200; // how often the words are looked at; numbers and traces are with every picture
  const COUNT = ["not", "once", "twice"];

  live.painted = null; // set by the benchmark: called with the rows of each picture after it was painted

  const clockWords = (at) => new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", second: "2-digit", hour12: false });
  const lasted = (seconds) => {
    const whole = Math.max(0, Math.floor(seconds));
    const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
    return h ? `${h} h ${String(m).padStart(2, "0")} min` : m ? `${m} min ${String(s).padStart(2, "0")} s` : `${s} s`;
  };

  class Page {
    constructor(host) {
      this.host = host;
      this.colours = JSON.parse(host.dataset.colours);
      this.fires = JSON.parse(host.dataset.fires);
      this.parts = [];
      this.frame = 0;
      const given = Number(host.dataset.session || 0);
      if (given) this.follow(given);
      else this.part = live.desk(host, (session) => this.follow(session));
    }

    close() {
      this.part?.close();
      this.alarm?.close();
      clearInterval(this.timer);
      clearTimeout(this.stopping);
      cancelAnimationFrame(this.frame);
    }

    // the clock that stamps the arrivals, as far as this browser can tell [s]
    now() {
      return performance.now() / 1000 - this.offset;
    }

    wall(t) {
      return Date.now() - (this.now() - t) * 1000;
    }

    follow(session) {
      this.close();
      this.session = session;
      this.offset = null;
      this.heard = 0;
      this.last = null;
      this.status = null;
      this.open = true;
      this.fresh = [];
      this.build();
      this.part = live.link(session, (message) => this.hear(message), (open) => this.connection(open));
      this.timer = setInterval(() => this.paintSoon(), 250);
    }

    build() {
      const { el } = live;
      this.head = el("p", { class: "live-what" });
      this.run = el("p", { class: "live-run" });
      this.troubles = el("div", { class: "live-troubles", role: "alert" });
      this.offers = el("div", { class: "live-offers", role: "status" });
      this.boardHost = el("div", { class: "live-board" });
      this.facts = el("dl", { class: "live-facts" });
      this.said = el("p", { class: "live-said", role: "status" });
      this.over = el("div", { class: "live-over", hidden: true });
      this.board = new live.Board(this.boardHost, this.colours, this.fires);
      this.alarm = new live.Alarm(this.session, JSON.parse(this.host.dataset.full));
      this.board.onPreference = () => this.paintSoon();
      const button = (words, kind, tap) => {
        const made = el("button", { type: "button", class: `live-button ${kind}` }, words);
        made.addEventListener("click", tap);
        return made;
      };
      this.stopButton = button("Stop", "live-stop", () => this.stop());
      this.controls = el(
        "div",
        { class: "live-controls", role: "group", "aria-label": "Marks and stop" },
        button("Mark", "", () => this.mark("mark")),
        button("Lap", "", () => this.mark("lap")),
        button("Chop", "", () => this.mark("chop")),
        this.stopButton,
      );
      this.controls.hidden = true;
      this.host.replaceChildren(
        el("div", { class: "live-head" }, this.head, this.run),
        this.alarm.banner,
        this.troubles,
        this.over,
        this.offers,
        this.boardHost,
        el("div", { class: "live-bar" }, this.said, this.controls),
        this.alarm.set,
        this.facts,
      );
    }

    connection(open) {
      this.open = open;
      this.paintSoon();
    }

    hear(message) {
      if (message.gone) {
        this.host.replaceChildren(live.el("p", { class: "lede" }, live.sentence(message.gone)));
        this.close();
        return;
      }
      const off = performance.now() / 1000 - message.now;
      // of all messages the soonest tells the clocks' difference best; drift lets it rise slowly
      const slack = this.heard ? (performance.now() / 1000 - this.heard) * 5e-4 : 0;
      this.offset = this.offset === null ? off : Math.min(off, this.offset + slack);
      this.heard = performance.now() / 1000;
      this.last = message.last;
      if (message.columns) {
        this.board.lay(message.columns);
        this.alarm.lay(message.columns);
      }
      if (message.status) this.alarm.about(message.status);
      if (message.rows) {
        this.board.take(message.rows);
        this.alarm.take(message.rows, this.now());
        if (live.painted) this.fresh.push(...message.rows);
      }
      if (message.status) this.tell(message.status);
      this.paintSoon();
    }

    tell(status) {
      this.status = status;
      this.saidAt = 0;
      this.board.fuel = status.fuel;
      this.board.marks = status.marks;
      this.board.states = Object.fromEntries(status.sensors.map((sensor) => [sensor.part, sensor.state]));
    }

    // one picture a frame, however many messages have come
    paintSoon() {
      if (!this.frame) {
        this.frame = requestAnimationFrame(() => {
          this.frame = 0;
          this.paint();
        });
      }
    }

    paint() {
      if (this.offset !== null && this.status) {
        const age = this.last === null ? null : this.now() - this.last;
        const stale = age === null || age > Math.max(STALE_S, 3 * this.board.period()) || !this.open;
        if (stale !== this.stale || !this.saidAt || performance.now() - this.saidAt >= WORDS_MS) {
          this.stale = stale;
          this.saidAt = performance.now();
          this.host.classList.toggle("stale", stale);
          this.words(age, stale);
          this.alarm.look(stale, this.now());
        }
        this.board.draw(this.now(), stale);
      } else if (!this.open) {
        this.words(null, true);
        this.alarm.look(true, null);
      }
      if (live.painted && this.fresh.length) {
        const rows = this.fresh;
        this.fresh = [];
        const channel = new MessageChannel();
        channel.port1.onmessage = () => live.painted?.(rows);
        channel.port2.postMessage(0);
      }
    }

    words(age, stale) {
      const { el } = live;
      const { status } = this;
      const say = (host, key, make) => {
        if (host.dataset.key === key) return;
        host.dataset.key = key;
        host.replaceChildren(...make());
      };
      const amiss = [];
      if (!this.open) amiss.push("This page has lost the dashboard and is trying again. The recording goes on by itself.");
      else if (status.recording && stale) {
        amiss.push(age === null ? "No line has come from the logger yet." : `No line for ${lasted(age)}.`);
      }
      for (const trouble of status?.troubles ?? []) {
        if (trouble.kind !== "ended") amiss.push(trouble.words);
      }
      say(this.troubles, amiss.join("\n"), () => amiss.map((words) => el("p", {}, words)));
      if (!status) return;
      const about = [status.bike ?? "no bike named", status.place, status.source].filter(Boolean).join(" · ");
      say(this.head, about, () => [el("strong", {}, `Session ${status.session}`), ` ${about}`]);
      const seconds = status.startedAt === null ? 0 : this.now() - status.startedAt;
      const lost = status.lost === 0 ? "no line lost" : status.lost === 1 ? "1 line lost" : `${status.lost} lines lost`;
      const going = status.recording ? `recording for ${lasted(seconds)} · ${lost}` : "not being recorded";
      say(this.run, going, () => [going]);
      this.controls.hidden = !status.recording;
      say(this.offers, JSON.stringify(status.recording ? status.offers : []), () => (status.recording ? status.offers : []).map((offer) => this.offer(offer)));
      this.ended(say);
      this.fact(say, age);
    }

    fact(say, age) {
      const { el } = live;
      const { status } = this;
      const whole = status.counted === "whole" ? "" : " since this page looks";
      const rows = [
        ["Last line", age === null ? "none yet" : !status.recording ? clockWords(this.wall(this.last)) : age < 1 ? "just now" : `${lasted(age)} ago`],
        ["Lines lost", status.lost ? `${status.lost}${whole}` : `none${whole}`],
        ["Damaged", status.damaged ? `${status.damaged}${whole}` : `none${whole}`],
        ["Disk left", status.disk ?? "not known yet"],
      ];
      if (status.restarts) rows.push(["Logger restarted", COUNT[status.restarts] ?? `${status.restarts} times`]);
      // those that have a number say it there
      const shown = new Set(this.board.rows.flatMap((row) => row.cells.map((cell) => cell.column.name)));
      for (const sensor of status.sensors) if (!shown.has(sensor.part)) rows.push([sensor.label, sensor.state]);
      for (const event of status.events.slice(-3)) rows.push([clockWords(this.wall(event.t)), event.words]);
      say(this.facts, JSON.stringify(rows), () =>
        rows.map(([name, words], i) => el("div", { class: i < 4 ? "" : "more", "data-state": words }, el("dt", {}, name), el("dd", {}, words))));
    }

    ended(say) {
      const { el } = live;
      const { status } = this;
      this.over.hidden = status.recording;
      if (status.recording) return;
      if (!this.wasOver) this.say("");
      this.wasOver = true;
      say(this.over, status.state, () => {
        if (status.state === "sealed") {
          return [
            el("p", {}, `Session ${status.session} is recorded and sealed: ${lasted(status.seconds)} of it.`),
            el("a", { class: "action", href: `/session/${status.session}` }, `The sheet of session ${status.session}`),
            el("a", { class: "action", href: "/live" }, "Record another"),
          ];
        }
        const words = status.state === "recording"
          ? "The recorder was cut off. What came is on the disk; it is sealed when the logbook is opened next, or by 'sootline recover'."
          : "This session was interrupted and is not sealed.";
        return [el("p", {}, words), ...status.sessionNotes.map((note) => el("p", { class: "quiet" }, note))];
      });
      this.boardHost.hidden = status.state === "sealed";
    }

    offer(offer) {
      const { el } = live;
      const at = clockWords(this.wall(offer.t));
      const keep = el("button", { type: "button", class: "live-button" }, "Keep it");
      const no = el("button", { type: "button", class: "live-button" }, "No");
      keep.addEventListener("click", () => this.mark("chop", offer.t));
      no.addEventListener("click", () => live.ask(`${this.session}/no-chop`, { t: offer.t }).catch(() => this.say("That did not reach the dashboard.")));
      return el("div", { class: "live-offer" }, el("p", {}, el("strong", {}, `A chop at ${at}?`), ` From ${live.grouped(Math.round(offer.rpm / 10) * 10)} 1/min, after ${offer.full} s of full throttle.`), keep, no);
    }

    say(words) {
      this.said.textContent = words;
    }

    async mark(what, t = this.now()) {
      const at = clockWords(this.wall(t));
      try {
        const answer = await live.ask(`${this.session}/mark`, { what, t });
        this.say(answer.refused ? live.sentence(answer.refused) : `${what[0].toUpperCase()}${what.slice(1)} at ${at} is written down.`);
      } catch (error) {
        this.say(`The ${what} at ${at} is NOT written down: the dashboard did not answer.`);
      }
    }

    async stop() {
      const button = this.stopButton;
      const calm = () => {
        clearTimeout(this.stopping);
        this.stopping = 0;
        button.classList.remove("armed");
        button.textContent = "Stop";
      };
      if (!this.stopping) {
        button.classList.add("armed");
        button.textContent = "Tap again";
        this.say(`Stop ends the recording: tap it again within ${STOP_S} s.`);
        this.stopping = setTimeout(() => {
          calm();
          this.say("Still recording.");
        }, STOP_S * 1000);
        return;
      }
      calm();
      this.say("Stopping, and sealing the session …");
      try {
        const answer = await live.ask(`${this.session}/stop`, {});
        if (answer.refused) this.say(live.sentence(answer.refused));
      } catch (error) {
        this.say("The dashboard did not answer; the recording goes on.");
      }
    }
  }

  let page = null;
  const look = () => {
    const host = document.getElementById("live");
    if (page && page.host === host) return;
    page?.close();
    page = host ? new Page(host) : null;
  };
  new MutationObserver(look).observe(document.documentElement, { subtree: true, childList: true });
})();
