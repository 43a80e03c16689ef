// Views of bodies on the page: a canvas with its buttons and legend, and the sliders of a shape space.

const views = [];

/** The next round number above a value, for the end of the legend. */
function roundUp(value) {
  if (!(value > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(value));
  return [1, 2, 5, 10].map((t) => t * power).find((v) => v >= value * 0.999);
}

/** A canvas of the page and everything around it that is the same for every body. */
class BodyView {
  constructor(root, triangles) {
    this.root = root;
    this.body = jsonOf(root.dataset.body);
    this.surface = new Surface(triangles, this.body);
    this.view = new View(root.querySelector("canvas"), this.surface);
    this.colour = root.querySelector("[data-colour]");
    this.legend = root.querySelector("[data-legend]");
    this.legendBar = root.querySelector("[data-legend-bar]");
    this.legendEnd = root.querySelector("[data-legend-end]");
    const stops = RAMP.map((c) => `rgb(${c.map((v) => Math.round(v * 255)).join(" ")})`);
    this.legendBar.style.background = `linear-gradient(to right, ${stops.join(", ")})`;
    this.colour.addEventListener("change", () => this.show());
    root.querySelectorAll("[data-look]").forEach((button) => {
      button.addEventListener("click", () => this.look(button.dataset.look));
    });
    root.classList.add("is-live");
    this.coefficients = this.surface.modes.map(() => 0);
    this.show();
  }

  look(where) {
    const camera = this.view.camera;
    const turns = { front: 0, side: -Math.PI / 2, back: Math.PI };
    if (where in turns) {
      camera.turn = turns[where];
      camera.tilt = 0.06;
    } else {
      camera.zoomBy(where === "nearer" ? 1.25 : 0.8);
    }
    this.view.redraw();
  }

  /** Puts the body at these coefficients, in standard deviations. */
  set(coefficients) {
    this.coefficients = coefficients.slice();
    this.surface.deform(this.coefficients);
    this.show();
  }

  show() {
    const full = this.fixedFull || roundUp(this.surface.largest);
    this.view.full = this.colour.checked ? full : 0;
    // at the mean nothing is away from it
    this.legend.hidden = !this.colour.checked || !(this.fixedFull || this.surface.largest > 0.05);
    this.legendEnd.textContent = `${full} mm`;
    this.view.refresh();
  }
}

/** The sliders of a shape space. */
class SpaceView extends BodyView {
  constructor(root, triangles) {
    super(root, triangles);
    this.sliders = [...root.querySelectorAll("input[data-mode]")];
    this.sliders.forEach((slider) => {
      slider.addEventListener("input", () => this.read());
      slider.disabled = false;
    });
    root.querySelector("[data-reset]").addEventListener("click", () => {
      this.sliders.forEach((s) => { s.value = 0; });
      this.view.camera.reset();
      this.read();
    });
    this.read();
  }

  read() {
    this.set(this.sliders.map((s) => Number(s.value)));
    this.sliders.forEach((slider, k) => {
      const sd = Number(slider.value);
      const mm = sd * this.surface.sds[k];
      const text = `${numberText(sd, 1, true)} SD, ${numberText(mm, Math.abs(mm) < 10 ? 1 : 0, true)} mm`;
      this.root.querySelector(`[data-value="${k}"]`).textContent = text;
      slider.setAttribute("aria-valuetext", text);
    });
  }

  /** Moves one slider. */
  setCoefficient(mode, sd) {
    if (!this.sliders[mode]) return;
    this.sliders[mode].value = sd;
    this.read();
  }
}
