// Points of a movement that play: dots in space, turned like the bodies, with their names on request.

class PointsView {
  constructor(root) {
    this.root = root;
    const sent = jsonOf(root.dataset.body);
    this.frames = sent.frames;
    this.names = sent.names;
    this.links = sent.links;
    this.times = new Float32Array(bytesOf(sent.times_s));
    const q = new Int16Array(bytesOf(sent.positions));
    this.places = Float32Array.from(q, (v, i) => (v === -32768 ? NaN : sent.offset_mm[i % 3] + sent.scale_mm[i % 3] * (v + 32767)));
    this.canvas = root.querySelector("canvas");
    this.pen = this.canvas.getContext("2d");
    if (!this.pen) throw new Error("no canvas");
    const size = sent.scale_mm.map((s) => s * 65534);
    const centre = sent.offset_mm.map((o, k) => o + size[k] / 2);
    this.camera = new Camera({ centre, size, radius: Math.hypot(...size) / 2 });
    this.view = { camera: this.camera, frames: 0 };
    steer(this.canvas, this.camera, () => this.draw());
    root.querySelectorAll("[data-look]").forEach((b) => b.addEventListener("click", () => this.look(b.dataset.look)));
    this.toggle = root.querySelector("[data-play]");
    this.slider = root.querySelector("[data-frame]");
    this.time = root.querySelector("[data-time]");
    this.speed = root.querySelector("[data-speed]");
    this.named = root.querySelector("[data-names]");
    this.cursors = [...document.querySelectorAll(`[data-cursor="${root.dataset.body}"]`)];
    this.playing = false;
    this.clock = 0;
    this.toggle.addEventListener("click", () => (this.playing ? this.pause() : this.play()));
    this.slider.addEventListener("input", () => {
      this.pause();
      this.seek(Number(this.slider.value));
    });
    this.named.addEventListener("change", () => this.draw());
    document.addEventListener("visibilitychange", () => document.hidden && this.pause());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
    new ResizeObserver(() => this.draw()).observe(this.canvas);
    root.classList.add("is-live");
    [this.toggle, this.slider, this.speed].forEach((e) => { e.disabled = false; });
    this.seek(0);
  }

  look(where) {
    const turns = { front: 0, side: -Math.PI / 2, back: Math.PI };
    if (where in turns) {
      this.camera.turn = turns[where];
      this.camera.tilt = 0.06;
    } else {
      this.camera.zoomBy(where === "nearer" ? 1.25 : 0.8);
    }
    this.draw();
  }

  seek(frame) {
    this.frame = Math.max(0, Math.min(this.frames - 1, Math.round(frame)));
    const seconds = this.times[this.frame] - this.times[0];
    if (!this.playing) this.clock = seconds;
    this.slider.value = this.frame;
    const text = `${this.times[this.frame].toFixed(2)} s`;
    this.time.textContent = text;
    this.slider.setAttribute("aria-valuetext", text);
    this.runAlong(seconds);
    this.draw();
  }

  draw() {
    const scale = Math.min(window.devicePixelRatio || 1, 2);
    const [width, height] = [this.canvas.clientWidth, this.canvas.clientHeight];
    this.canvas.width = Math.max(1, Math.round(width * scale));
    this.canvas.height = Math.max(1, Math.round(height * scale));
    const pen = this.pen;
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    const { view, projection } = this.camera.matrices(width / Math.max(height, 1));
    const n = this.names.length;
    const seen = [];
    for (let i = 0; i < n; i++) {
      const at = 3 * (this.frame * n + i);
      const [x, y, z] = this.places.subarray(at, at + 3);
      if (Number.isNaN(x)) continue;
      const row = (k) => view[k] * x + view[4 + k] * y + view[8 + k] * z + view[12 + k];
      const [vx, vy, vz] = [row(0), row(1), row(2)];
      if (vz > -1) continue;
      seen[i] = [width * (0.5 - (0.5 * projection[0] * vx) / vz), height * (0.5 + (0.5 * projection[5] * vy) / vz), -vz];
    }
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(name).trim();
    pen.strokeStyle = colour("--muted");
    pen.lineWidth = 1.2;
    for (const [a, b] of this.links) {
      if (!seen[a] || !seen[b]) continue;
      pen.beginPath();
      pen.moveTo(seen[a][0], seen[a][1]);
      pen.lineTo(seen[b][0], seen[b][1]);
      pen.stroke();
    }
    pen.font = "12px system-ui, sans-serif";
    const order = Object.keys(seen).map(Number).sort((a, b) => seen[b][2] - seen[a][2]);
    for (const i of order) {
      const [x, y] = seen[i];
      pen.fillStyle = colour("--s1");
      pen.beginPath();
      pen.arc(x, y, 4, 0, 2 * Math.PI);
      pen.fill();
      if (this.named.checked) {
        pen.fillStyle = colour("--ink");
        pen.fillText(this.names[i], x + 7, y + 4);
      }
    }
    this.view.frames += 1;
  }
}

Object.assign(PointsView.prototype, playing);
