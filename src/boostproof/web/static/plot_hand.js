// Hands on a plot: keyboard, pinch, tap, and the wheel with Ctrl. Dragging with a mouse is uPlot's own.

const STEP = 0.01; // of what is shown, for one press of an arrow; ten times that with Shift
const CLOSER = 0.8;

/** Arrows move the cursor, + and - zoom around it, 0 shows the whole. Returns what undoes it. */
export function keys(area, group) {
  const pressed = (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !group.block) return;
    const step = event.shiftKey ? 10 * STEP : STEP;
    const does = {
      ArrowLeft: () => group.step(-step),
      ArrowRight: () => group.step(step),
      Home: () => group.point(group.shown()[0]),
      End: () => group.point(group.shown()[1]),
      "+": () => group.zoomBy(CLOSER * CLOSER),
      "=": () => group.zoomBy(CLOSER * CLOSER),
      "-": () => group.zoomBy(1 / CLOSER / CLOSER),
      0: () => group.zoom(...group.whole()),
      Escape: () => group.point(null),
    }[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  };
  area.addEventListener("keydown", pressed);
  return () => area.removeEventListener("keydown", pressed);
}

/** Fingers and wheel on one panel. Returns what undoes it. */
export function pointers(over, group, panel) {
  const fingers = new Map();
  let held = null; // x values under both fingers when the pinch began

  const xOf = (clientX) => panel.plot.posToVal(clientX - over.getBoundingClientRect().left, "x");
  const places = () => [...fingers.values()].sort((a, b) => a - b);

  const down = (event) => {
    if (event.pointerType !== "touch") return;
    fingers.set(event.pointerId, event.clientX);
    if (fingers.size === 2) held = places().map(xOf);
    else if (fingers.size === 1) group.point(xOf(event.clientX));
  };
  const move = (event) => {
    if (!fingers.has(event.pointerId)) return;
    fingers.set(event.pointerId, event.clientX);
    if (fingers.size === 1 && !held) group.point(xOf(event.clientX));
    if (fingers.size !== 2 || !held) return;
    // What was under the fingers stays under them.
    const { left, width } = over.getBoundingClientRect();
    const [a, b] = places().map((x) => (x - left) / width);
    if (b - a < 0.02) return;
    const scale = (held[1] - held[0]) / (b - a);
    const from = held[0] - a * scale;
    group.zoom(from, from + scale);
  };
  const up = (event) => {
    fingers.delete(event.pointerId);
    if (!fingers.size) held = null;
  };
  const wheel = (event) => {
    if (!event.ctrlKey) return; // without Ctrl the page scrolls
    event.preventDefault();
    group.zoomBy(event.deltaY < 0 ? CLOSER : 1 / CLOSER, xOf(event.clientX));
  };

  const bound = { pointerdown: down, pointermove: move, pointerup: up, pointercancel: up };
  for (const [name, does] of Object.entries(bound)) over.addEventListener(name, does);
  over.addEventListener("wheel", wheel, { passive: false });
  return () => {
    for (const [name, does] of Object.entries(bound)) over.removeEventListener(name, does);
    over.removeEventListener("wheel", wheel);
  };
}
