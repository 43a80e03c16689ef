// A camera that walks around a body: z is up, the front looks along +y from -y.

class Camera {
  constructor(bounds) {
    this.bounds = bounds;
    this.reset();
  }

  reset() {
    this.turn = 0; // radians about the vertical; 0 is the front
    this.tilt = 0.06;
    this.zoom = 1;
  }

  rotate(dx, dy) {
    this.turn -= dx;
    this.tilt = Math.max(-1.5, Math.min(1.5, this.tilt + dy));
  }

  zoomBy(factor) {
    this.zoom = Math.max(0.5, Math.min(8, this.zoom * factor));
  }

  /** View and projection as column-major 4 x 4 arrays for a canvas of this width over height. */
  matrices(aspect) {
    const field = 0.42; // of the height, radians
    const [w, d, h] = this.bounds.size;
    const half = Math.max(h / 2, Math.hypot(w, d) / 2 / Math.max(aspect, 0.05)) * 1.14;
    const distance = half / Math.tan(field / 2) + Math.hypot(w, d) / 2;
    const away = distance / this.zoom;
    const ct = Math.cos(this.turn), st = Math.sin(this.turn);
    const cp = Math.cos(this.tilt), sp = Math.sin(this.tilt);
    const back = [st * cp, -ct * cp, sp]; // from the body to the eye
    const right = [ct, st, 0];
    const up = [-st * sp, ct * sp, cp];
    const c = this.bounds.centre;
    const eye = back.map((b, k) => c[k] + away * b);
    const dot = (a) => -(a[0] * eye[0] + a[1] * eye[1] + a[2] * eye[2]);
    const view = [
      right[0], up[0], back[0], 0,
      right[1], up[1], back[1], 0,
      right[2], up[2], back[2], 0,
      dot(right), dot(up), dot(back), 1,
    ];
    const near = Math.max(away - this.bounds.radius * 2.5, away * 0.02);
    const far = away + this.bounds.radius * 3;
    const f = 1 / Math.tan(field / 2);
    const projection = [
      f / aspect, 0, 0, 0,
      0, f, 0, 0,
      0, 0, (far + near) / (near - far), -1,
      0, 0, (2 * far * near) / (near - far), 0,
    ];
    return { view, projection };
  }
}

/** Turns by drag, touch and arrow keys; zooms by pinch, by + and -, and by the wheel once the view has the focus. */
function steer(canvas, camera, redraw) {
  const pointers = new Map();
  let apart = 0;
  canvas.addEventListener("pointerdown", (e) => {
    pointers.set(e.pointerId, [e.clientX, e.clientY]);
    canvas.setPointerCapture(e.pointerId);
  });
  const lift = (e) => {
    pointers.delete(e.pointerId);
    apart = 0;
  };
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  canvas.addEventListener("pointermove", (e) => {
    const before = pointers.get(e.pointerId);
    if (!before) return;
    pointers.set(e.pointerId, [e.clientX, e.clientY]);
    if (pointers.size === 1) {
      camera.rotate((e.clientX - before[0]) * 0.01, (e.clientY - before[1]) * 0.01);
    } else {
      const [a, b] = [...pointers.values()];
      const now = Math.hypot(a[0] - b[0], a[1] - b[1]);
      if (apart > 0 && now > 0) camera.zoomBy(now / apart);
      apart = now;
    }
    redraw();
  });
  canvas.addEventListener("wheel", (e) => {
    // the page keeps its own scrolling until the view is chosen
    if (document.activeElement !== canvas) return;
    e.preventDefault();
    camera.zoomBy(Math.exp(-e.deltaY * 0.0015));
    redraw();
  }, { passive: false });
  canvas.addEventListener("keydown", (e) => {
    const step = 0.12;
    const moves = {
      ArrowLeft: () => camera.rotate(step, 0),
      ArrowRight: () => camera.rotate(-step, 0),
      ArrowUp: () => camera.rotate(0, step),
      ArrowDown: () => camera.rotate(0, -step),
      "+": () => camera.zoomBy(1.15),
      "=": () => camera.zoomBy(1.15),
      "-": () => camera.zoomBy(1 / 1.15),
      Home: () => camera.reset(),
      Escape: () => canvas.blur(),
    };
    if (!moves[e.key] || e.ctrlKey || e.metaKey || e.altKey) return;
    moves[e.key]();
    e.preventDefault();
    redraw();
  });
}
