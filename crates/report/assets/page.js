// Starts the views, and says what the page can do to anyone who drives it from outside.

const kinds = { space: SpaceView, movement: MovementView, painted: PaintedView, points: PointsView };
const surfaces = new Map();
const faults = [];

function start(root) {
  const name = root.dataset.surface;
  if (name && !surfaces.has(name)) surfaces.set(name, trianglesOf(jsonOf(name)));
  try {
    const view = new kinds[root.dataset.kind](root, surfaces.get(name));
    views.push(view);
  } catch (fault) {
    // the page says so in words; charts and tables stand without the view
    root.classList.remove("is-live");
    faults.push(String(fault));
  }
}

document.querySelectorAll("[data-body]").forEach(start);

// boxes of tables are stops for the keyboard only where there is something to scroll to
function stops() {
  document.querySelectorAll(".scroll").forEach((box) => {
    if (box.scrollWidth > box.clientWidth + 1) box.setAttribute("tabindex", "0");
    else box.removeAttribute("tabindex");
  });
}
stops();
addEventListener("resize", stops);
document.addEventListener("toggle", stops, true);

const spaceView = () => views.find((v) => v instanceof SpaceView);
const movementView = (i) => views.filter((v) => v instanceof MovementView)[i || 0];

window.formkinReport = {
  ready: true,
  /** Pictures drawn so far, over all views. */
  get drawn() {
    return views.reduce((sum, v) => sum + v.view.frames, 0);
  },
  /** Number of live 3-D views. */
  get views() {
    return views.length;
  },
  /** Why views are not live, where they are not. */
  faults,
  /** Moves the slider of mode k (from 0) of the shape space. */
  setCoefficient: (k, sd) => spaceView()?.setCoefficient(k, sd),
  coefficients: () => spaceView()?.coefficients.slice() ?? [],
  /** The greatest distance of a vertex from the mean, in mm, in the space's view. */
  displacement: () => spaceView()?.surface.largest ?? 0,
  look: (where) => spaceView()?.look(where),
  play: (i) => movementView(i)?.play(),
  pause: (i) => movementView(i)?.pause(),
  seek: (i, frame) => movementView(i)?.seek(frame),
  frame: (i) => movementView(i)?.frame ?? -1,
};
