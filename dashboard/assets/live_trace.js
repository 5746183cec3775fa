// The last minute of one quantity, drawn on a canvas: one line a cylinder, up to a mark for now at the right.
// Each picture shifts the lines drawn up to half a second ago and adds their newest stretch; drawing all of it
// anew each time would take a slow phone all it has.
(() => {
  const live = (window.sootlineLive ??= {});
  const SHOWN_S = 60;
  const STEP_S = 0.125; // a column of the picture; what falls into one is kept as its lowest and highest
  const SIZE = 512; // columns kept, more than a minute of them
  const ANEW_S = 0.5; // how often the whole is drawn anew, and a range that follows the values looked at

  // One channel's last minute. A column remembers its number, so that old ones need not be cleared.
  live.Minute = class {
    constructor(holdS) {
      this.hold = Math.max(4, Math.ceil(holdS / STEP_S));
      this.at = new Float64Array(SIZE).fill(-1);
      this.low = new Float32Array(SIZE);
      this.high = new Float32Array(SIZE);
      this.end = new Float32Array(SIZE);
      this.endT = new Float64Array(SIZE);
      this.cut = new Float64Array(SIZE).fill(-1);
    }

    // value: a number, or false where it was outside its limits, which ends the line
    add(t, value) {
      const column = Math.floor(t / STEP_S);
      const i = column % SIZE;
      if (value === false) {
        this.cut[i] = column;
        return;
      }
      if (this.at[i] !== column) {
        this.at[i] = column;
        this.low[i] = this.high[i] = value;
      } else if (value < this.low[i]) this.low[i] = value;
      else if (value > this.high[i]) this.high[i] = value;
      this.end[i] = value;
      this.endT[i] = t;
    }

    // calls visit(t, low, high, end, begins) for each column from a moment on
    walk(from, now, visit) {
      const last = Math.floor(now / STEP_S);
      let before = -Infinity;
      for (let column = Math.floor(from / STEP_S); column <= last; column++) {
        const i = column % SIZE;
        if (this.cut[i] === column) before = -Infinity;
        if (this.at[i] !== column) continue;
        visit(this.endT[i], this.low[i], this.high[i], this.end[i], column - before > this.hold);
        before = column;
      }
    }

    extremes(now) {
      let low = Infinity;
      let high = -Infinity;
      this.walk(now - SHOWN_S, now, (_t, l, h) => {
        if (l < low) low = l;
        if (h > high) high = h;
      });
      return [low, high];
    }
  };

  // sizes are told when they change: asking for them between changes of text would lay the page out each time
  const sizes = new WeakMap();
  const measured = new ResizeObserver((entries) => {
    for (const { target, contentRect } of entries) {
      sizes.set(target, [contentRect.width, contentRect.height]);
      target.past = null;
    }
  });

  const fit = (canvas) => {
    if (!sizes.has(canvas)) {
      sizes.set(canvas, [canvas.clientWidth, canvas.clientHeight]);
      measured.observe(canvas);
    }
    const ratio = window.devicePixelRatio || 1;
    const [width, height] = sizes.get(canvas).map((length) => Math.round(length * ratio));
    if (canvas.width !== width || canvas.height !== height) {
      canvas.width = width;
      canvas.height = height;
      canvas.past = null;
    }
    return ratio;
  };

  const range = (spec, minutes, now) => {
    if (spec.range) return spec.range;
    if (spec.found && now - spec.foundAt < ANEW_S) return spec.found;
    spec.foundAt = now;
    return (spec.found = fresh(spec, minutes, now));
  };

  const fresh = (spec, minutes, now) => {
    let low = Infinity;
    let high = -Infinity;
    for (const minute of minutes) {
      const [l, h] = minute.extremes(now);
      low = Math.min(low, l);
      high = Math.max(high, h);
    }
    if (low > high) return [spec.floor ?? 0, (spec.floor ?? 0) + spec.span];
    const step = spec.step;
    const from = spec.floor ?? Math.floor(low / step) * step;
    return [from, Math.max(from + spec.span, Math.ceil(high / step) * step)];
  };

  // spec: {range | floor, span, step, line, namesMarks}; lines: [{minute, colour, width}]; returns the range
  live.draw = (canvas, spec, lines, marks, now, ink) => {
    const ratio = fit(canvas);
    const frame = {
      ratio,
      ink,
      left: 0,
      right: canvas.width / ratio - 9,
      top: 7,
      bottom: canvas.height / ratio - 7,
      named: spec.namesMarks,
    };
    const [low, high] = range(spec, lines.map((line) => line.minute), now);
    if (canvas.width === 0 || canvas.height === 0) return [low, high]; // out of sight
    frame.y = (value) => frame.bottom - ((value - low) / (high - low)) * (frame.bottom - frame.top);
    frame.speed = (frame.right - frame.left) / SHOWN_S;
    const key = `${low} ${high} ${ink.ink} ${marks.length}`;
    if (canvas.past?.key !== key || now - canvas.past.now > ANEW_S || now < canvas.past.now) {
      canvas.past = drawPast(canvas, frame, lines, marks, now, key);
    }
    const { past } = canvas;
    const shift = Math.round((now - past.now) * frame.speed * ratio);
    const shown = past.now + shift / ratio / frame.speed; // now, to the nearest pixel

    const pen = canvas.getContext("2d", { alpha: false });
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = ink.ground;
    pen.fillRect(0, 0, canvas.width, canvas.height);
    drawGrid(pen, frame, low, high, spec.line);
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.drawImage(past.picture, -shift, 0);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    clipped(pen, frame, () => {
      for (const line of lines) drawLine(pen, frame, line, past.now - 4 * STEP_S, shown);
    });
    for (const line of lines) drawEnd(pen, frame, line, shown);
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(frame.right, frame.top - 5);
    pen.lineTo(frame.right, frame.bottom + 5);
    pen.stroke();
    return [low, high];
  };

  const drawPast = (canvas, frame, lines, marks, now, key) => {
    const picture = canvas.past?.picture ?? document.createElement("canvas");
    picture.width = canvas.width; // which clears it
    picture.height = canvas.height;
    const pen = picture.getContext("2d");
    pen.setTransform(frame.ratio, 0, 0, frame.ratio, 0, 0);
    drawMarks(pen, marks, (t) => frame.right - (now - t) * frame.speed, { ...frame, now });
    clipped(pen, frame, () => {
      for (const line of lines) drawLine(pen, frame, line, now - SHOWN_S, now);
    });
    return { picture, now, key };
  };

  const drawGrid = (pen, frame, low, high, line) => {
    const { left, right, top, bottom, ink } = frame;
    pen.lineWidth = 1;
    pen.strokeStyle = ink.hair;
    pen.beginPath();
    for (const back of [60, 45, 30, 15]) {
      const at = Math.round(right - back * frame.speed) + 0.5;
      pen.moveTo(at, top);
      pen.lineTo(at, bottom);
    }
    for (const edge of [low, high]) {
      pen.moveTo(left, Math.round(frame.y(edge)) + 0.5);
      pen.lineTo(right, Math.round(frame.y(edge)) + 0.5);
    }
    pen.stroke();
    if (line === undefined) return;
    pen.strokeStyle = ink.quiet;
    pen.setLineDash([5, 4]);
    pen.beginPath();
    pen.moveTo(left, Math.round(frame.y(line)) + 0.5);
    pen.lineTo(right, Math.round(frame.y(line)) + 0.5);
    pen.stroke();
    pen.setLineDash([]);
  };

  // what is outside the range leaves the picture; along its edge it would look like a reading
  const clipped = (pen, frame, work) => {
    pen.save();
    pen.beginPath();
    pen.rect(frame.left, frame.top - 2, frame.right + 9 - frame.left, frame.bottom - frame.top + 4);
    pen.clip();
    work();
    pen.restore();
  };

  const drawLine = (pen, frame, line, from, now) => {
    const { y } = frame;
    pen.strokeStyle = line.colour;
    pen.lineWidth = line.width;
    pen.lineJoin = "bevel";
    pen.beginPath();
    line.minute.walk(from, now, (t, low, high, last, begins) => {
      const at = frame.right - (now - t) * frame.speed;
      if (begins) pen.moveTo(at, y(last));
      else {
        const [lower, upper] = [y(low), y(high)];
        if (lower - upper > 1) {
          const falls = high - last > last - low;
          pen.lineTo(at, falls ? upper : lower);
          pen.lineTo(at, falls ? lower : upper);
        }
        pen.lineTo(at, y(last));
      }
    });
    pen.stroke();
  };

  const drawEnd = (pen, frame, line, now) => {
    let end = null;
    line.minute.walk(now - 1, now, (t, _low, _high, last) => {
      end = [t, last];
    });
    const y = end === null ? -1 : frame.y(end[1]);
    if (y < frame.top - 2 || y > frame.bottom + 2) return;
    pen.fillStyle = line.colour;
    pen.beginPath();
    pen.arc(frame.right - (now - end[0]) * frame.speed, y, 4.5, 0, 2 * Math.PI);
    pen.fill();
  };

  const drawMarks = (pen, marks, x, at) => {
    pen.strokeStyle = at.ink.quiet;
    pen.fillStyle = at.ink.quiet;
    pen.font = `13px ${at.ink.font}`;
    pen.beginPath();
    for (const mark of marks) {
      if (at.now - mark.t > SHOWN_S) continue;
      const where = Math.round(x(mark.t)) + 0.5;
      pen.moveTo(where, at.top);
      pen.lineTo(where, at.bottom);
      if (at.named) {
        const wide = pen.measureText(mark.what).width;
        pen.fillText(mark.what, Math.max(at.left, Math.min(where + 4, at.right - wide - 4)), at.bottom - 4);
      }
    }
    pen.stroke();
  };
})();
