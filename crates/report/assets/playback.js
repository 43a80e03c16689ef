// A movement that plays: what views of bodies and of points share.

const playing = {
  play() {
    if (this.playing) return;
    this.playing = true;
    this.toggle.textContent = "Pause";
    let before = null;
    const span = this.times[this.frames - 1] - this.times[0] || 1;
    const tick = (now) => {
      if (!this.playing) return;
      if (before !== null) {
        this.clock = (this.clock + ((now - before) / 1000) * Number(this.speed.value)) % span;
        this.seek(this.frameAt(this.clock + this.times[0]));
      }
      before = now;
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  },

  pause() {
    this.playing = false;
    this.toggle.textContent = "Play";
  },

  /** The last frame at or before a time. */
  frameAt(time) {
    let low = 0;
    let high = this.frames - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (this.times[middle] <= time) low = middle;
      else high = middle - 1;
    }
    return low;
  },

  /** Moves the lines in the charts to so many seconds after the first frame. */
  runAlong(seconds) {
    const span = this.times[this.frames - 1] - this.times[0] || 1;
    this.cursors.forEach((line) => {
      const { left, right } = line.dataset;
      const x = Number(left) + ((Number(right) - Number(left)) * seconds) / span;
      line.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
      line.classList.add("is-live");
    });
  },
};
