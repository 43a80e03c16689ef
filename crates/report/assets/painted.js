// A body painted with a result: blue inwards, orange outwards, grey where there is no finding; sliders move it.

const DIVERGING = [
  [0.08, 0.31, 0.67], [0.50, 0.67, 0.86], [0.80, 0.82, 0.82], [0.93, 0.68, 0.42], [0.84, 0.37, 0.04],
];

class PaintedView extends BodyView {
  constructor(root, triangles) {
    super(root, triangles);
    const sent = this.body.paint;
    const q = new Int8Array(bytesOf(sent.data));
    this.painted = Float32Array.from(q, (v) => (v / 127 + 1) / 2);
    this.paintFull = sent.full_mm;
    this.view.ramp = DIVERGING;
    const stops = DIVERGING.map((c) => `rgb(${c.map((v) => Math.round(v * 255)).join(" ")})`);
    this.legendBar.style.background = `linear-gradient(to right, ${stops.join(", ")})`;
    this.legendStart = root.querySelector("[data-legend-start]");
    this.sliders = [...root.querySelectorAll("input[data-mode]")];
    this.swing = root.querySelector("[data-swing]");
    this.sliders.forEach((s) => {
      s.addEventListener("input", () => { this.still(); this.read(); });
      s.disabled = false;
    });
    root.querySelector("[data-reset]").addEventListener("click", () => {
      this.still();
      this.sliders.forEach((s) => { s.value = 0; });
      this.view.camera.reset();
      this.read();
    });
    this.swing.addEventListener("click", () => (this.swinging ? this.still() : this.go()));
    document.addEventListener("visibilitychange", () => document.hidden && this.still());
    this.read();
  }

  still() {
    this.swinging = false;
    this.swing.setAttribute("aria-pressed", "false");
    this.swing.textContent = "Move to and fro";
  }

  /** Moves the first slider between its ends, once in four seconds. */
  go() {
    this.swinging = true;
    this.swing.setAttribute("aria-pressed", "true");
    this.swing.textContent = "Hold";
    const slider = this.sliders[0];
    if (!slider) return;
    const [low, high] = [Number(slider.min), Number(slider.max)];
    let began = null;
    const step = (now) => {
      if (!this.swinging) return;
      began ??= now;
      const t = (1 - Math.cos((now - began) / 4000 * 2 * Math.PI)) / 2;
      slider.value = low < 0 ? low + (high - low) * t : high * t;
      this.read();
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  read() {
    this.set(this.sliders.map((s) => Number(s.value)));
    this.sliders.forEach((slider, k) => {
      const text = `${numberText(Number(slider.value), 2, true)} ${slider.dataset.unit}`.trim();
      this.root.querySelector(`[data-value="${k}"]`).textContent = text;
      slider.setAttribute("aria-valuetext", text);
    });
  }

  show() {
    if (!this.painted) return;
    this.surface.moved = this.painted;
    this.view.full = this.colour.checked ? 1 : 0;
    this.legend.hidden = !this.colour.checked || this.paintFull < 1e-6;
    const decimals = this.paintFull < 1 ? 2 : 1;
    this.legendStart.textContent = `≤ ${numberText(-this.paintFull, decimals)} mm`;
    this.legendEnd.textContent = `≥ ${numberText(this.paintFull, decimals, true)} mm`;
    this.view.refresh();
  }
}
