// The sound of the alarm, made by the browser itself: two tones in turn. It needs a tap before it may be heard.
(() => {
  const live = (window.sootlineLive ??= {});
  const GAIN = 0.35;
  const TONES_HZ = [990, 660];
  const EACH_S = 0.25;
  const TURNS = 2400; // ten minutes of it

  live.Horn = class {
    // changed() is called when the browser lets it be heard, or no longer
    constructor(changed) {
      this.context = null;
      this.changed = changed;
    }

    get ready() {
      return this.context !== null && this.context.state === "running";
    }

    async on() {
      if (this.context === null) {
        this.context = new AudioContext();
        this.context.onstatechange = this.changed;
      }
      await this.context.resume();
    }

    start() {
      if (!this.ready || this.tone) return;
      const { context } = this;
      this.tone = context.createOscillator();
      const gain = context.createGain();
      this.tone.type = "square";
      gain.gain.value = GAIN;
      const from = context.currentTime;
      for (let i = 0; i < TURNS; i++) this.tone.frequency.setValueAtTime(TONES_HZ[i % 2], from + i * EACH_S);
      this.tone.connect(gain).connect(context.destination);
      this.tone.start();
    }

    stop() {
      this.tone?.stop();
      this.tone = null;
    }

    close() {
      this.stop();
      if (this.context === null) return;
      this.context.onstatechange = null;
      this.context.close();
      this.context = null;
    }
  };
})();
