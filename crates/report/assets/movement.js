// A movement that plays: coefficients through time move the body, and a line runs along its charts.

class MovementView extends BodyView {
  constructor(root, triangles) {
    super(root, triangles);
    const sent = this.body.playback;
    this.frames = sent.frames;
    this.times = new Float32Array(bytesOf(sent.times_s));
    this.course = new Float32Array(bytesOf(sent.coefficients));
    this.frame = 0;
    this.playing = false;
    this.clock = 0; // seconds since the first frame
    this.toggle = root.querySelector("[data-play]");
    this.slider = root.querySelector("[data-frame]");
    this.time = root.querySelector("[data-time]");
    this.speed = root.querySelector("[data-speed]");
    this.modes = [...root.querySelectorAll("input[data-with-mode]")];
    this.cursors = [...document.querySelectorAll(`[data-cursor="${root.dataset.body}"]`)];
    this.fixedFull = roundUp(this.farthest());
    this.toggle.addEventListener("click", () => (this.playing ? this.pause() : this.play()));
    this.slider.addEventListener("input", () => {
      this.pause();
      this.seek(Number(this.slider.value));
    });
    this.modes.forEach((box) => box.addEventListener("change", () => this.seek(this.frame)));
    document.addEventListener("visibilitychange", () => document.hidden && this.pause());
    this.strainBox = root.querySelector("[data-strain]");
    if (this.strainBox && this.body.strain) {
      this.strain = this.body.strain;
      this.strained = new Uint8Array(bytesOf(this.strain.data));
      this.farthestFull = this.fixedFull;
      this.strainBox.disabled = false;
      this.strainBox.addEventListener("change", () => {
        if (this.strainBox.checked) this.colour.checked = true;
        this.seek(this.frame);
      });
      this.colour.addEventListener("change", () => {
        if (!this.colour.checked) this.strainBox.checked = false;
        this.seek(this.frame);
      });
    }
    this.linesBox = root.querySelector("[data-lines]");
    if (this.linesBox && this.body.lines) {
      this.lines = new SkinLines(this.body.lines, this.surface);
      this.linesBox.disabled = false;
      this.linesBox.addEventListener("change", () => {
        this.view.extra = this.linesBox.checked ? this.lines : null;
        this.view.refresh();
      });
    }
    [this.toggle, this.slider, this.speed, ...this.modes].forEach((e) => { e.disabled = false; });
    this.seek(0);
  }

  /** The farthest a vertex gets from the mean, over some thirty frames: the legend keeps one end while the movement plays. */
  farthest() {
    const step = Math.max(1, Math.floor(this.frames / 30));
    let most = 0;
    for (let frame = 0; frame < this.frames; frame += step) {
      this.surface.deform(this.row(frame));
      most = Math.max(most, this.surface.largest);
    }
    return most;
  }

  /** With strain the colour of a vertex is its stretch at this frame, between the frames that were sent. */
  set(coefficients) {
    const on = this.strain && this.strainBox.checked;
    this.legend.firstElementChild.textContent = on ? "0 %" : "0 mm";
    if (!on) {
      if (this.strain) this.fixedFull = this.farthestFull;
      super.set(coefficients);
      return;
    }
    this.coefficients = coefficients.slice();
    this.surface.deform(this.coefficients);
    const { frames, full_percent: full } = this.strain;
    const n = this.surface.vertices;
    let k = 0;
    while (k + 2 < frames.length && frames[k + 1] <= this.frame) k++;
    const next = Math.min(k + 1, frames.length - 1);
    const apart = frames[next] - frames[k] || 1;
    const u = Math.max(0, Math.min(1, (this.frame - frames[k]) / apart));
    for (let v = 0; v < n; v++) {
      const value = (1 - u) * this.strained[k * n + v] + u * this.strained[next * n + v];
      this.surface.moved[v] = (full * value) / 255;
    }
    this.fixedFull = full;
    this.show();
    this.legendEnd.textContent = `${full} %`;
  }

  row(frame) {
    const count = this.surface.modes.length;
    const row = Array.from(this.course.subarray(frame * count, (frame + 1) * count));
    return row.map((c, k) => (this.modes && this.modes[k] && !this.modes[k].checked ? 0 : c));
  }

  seek(frame) {
    this.frame = Math.max(0, Math.min(this.frames - 1, Math.round(frame)));
    const seconds = this.times[this.frame] - this.times[0];
    if (!this.playing) this.clock = seconds;
    this.set(this.row(this.frame));
    this.slider.value = this.frame;
    const text = `${this.times[this.frame].toFixed(2)} s, frame ${this.frame + 1} of ${this.frames}`;
    this.time.textContent = text;
    this.slider.setAttribute("aria-valuetext", text);
    this.runAlong(seconds);
  }
}

Object.assign(MovementView.prototype, playing);
