// How a plot looks: paper and ink of the page, lines told apart by stroke as well as by colour.
/* global uPlot */

const NAMES = ["paper", "sheet", "ink", "soft", "rule", "pencil", "suspect"];
// Of the lines that a person has ticked, in their order; what is not ticked lies thin behind them.
const MARKS = [
  { colour: "pencil", width: 2.6, dash: [] },
  { colour: "ink", width: 2.0, dash: [10, 5] },
  { colour: "ink", width: 3.0, dash: [3, 5] },
  { colour: "soft", width: 2.4, dash: [16, 4, 3, 4] },
];
const BEHIND = { colour: "soft", width: 1, dash: [] };
const FONT = "16px system-ui, sans-serif";

let colours = null;

/** Colours of the page as they are now. */
export function palette(again = false) {
  if (!colours || again) {
    const style = getComputedStyle(document.documentElement);
    colours = Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim() || "#333"]));
  }
  return colours;
}

function mark(panel, line) {
  const rank = panel.rank(line);
  return rank < 0 ? BEHIND : MARKS[rank % MARKS.length];
}

/** uPlot's options for one panel. */
export function panelOptions(panel, about, head, last) {
  const axis = { stroke: () => palette().soft, font: FONT, ticks: { show: false } };
  const grid = { stroke: () => palette().rule, width: 1 };
  const digits = about.digits;
  return {
    legend: { show: false },
    padding: [10, 14, last ? 0 : 6, 0],
    cursor: {
      y: false,
      drag: { x: true, y: false, setScale: false },
      points: { size: (_, i) => (panel.lines[i - 1].quiet ? 0 : 9), width: 2, stroke: () => palette().ink, fill: () => palette().sheet },
      bind: { dblclick: () => () => panel.group.zoom(...panel.group.whole()) },
    },
    scales: { x: { time: false }, y: { range: (_, low, high) => limits(about, low, high, head.spans?.length ? 0.3 : 0.08) } },
    axes: [
      {
        ...axis,
        grid,
        size: last ? 44 : 4,
        values: (_, marks) => marks.map((v) => (last ? v.toLocaleString(document.documentElement.lang || "en") : "")),
        label: last ? head.x.label : undefined,
        labelFont: FONT,
        labelSize: last ? 24 : 0,
        space: 80,
      },
      { ...axis, grid, size: 64, space: 34, values: (_, marks) => evenly(about, marks, digits) },
    ],
    series: [{}, ...panel.lines.map((line, i) => series(panel, line, i))],
    bands: bands(panel),
  };
}

function evenly(about, marks, digits) {
  if (about.ends) return marks.map((v) => about.ends[String(v)] ?? "");
  const shown = marks.every((v) => Number.isInteger(v)) ? 0 : Math.max(digits, 1);
  const how = { minimumFractionDigits: shown, maximumFractionDigits: shown };
  return marks.map((v) => v.toLocaleString(document.documentElement.lang || "en", how).replace("-", "\u2212"));
}

function limits(about, low, high, above) {
  if (about.range) return about.range;
  if (low === null || high === null) return [0, 1];
  const room = (high - low) || Math.abs(high) || 1;
  return [about.zero && low >= 0 ? 0 : low - 0.08 * room, high + above * room];
}

function series(panel, line, i) {
  const now = () => panel.lines[i] || line;
  const shape = { spanGaps: line.gaps === true, points: { show: false } };
  if (line.role === "edge") return { ...shape, width: 0, stroke: "transparent" };
  if (line.role === "wanted") return { ...shape, width: 1.5, dash: [3, 4], stroke: () => palette().ink };
  return { ...shape, stroke: () => palette()[mark(panel, now()).colour], width: 1 };
}

/** Width and dash of every line as they are to be now: uPlot keeps those that it began with. */
export function remark(panel) {
  panel.lines.forEach((line, i) => {
    if (line.role === "edge" || line.role === "wanted") return;
    const { width, dash } = mark(panel, line);
    Object.assign(panel.plot.series[i + 1], { width, dash: dash.map((v) => v * (devicePixelRatio || 1)) });
  });
}

/** Pairs of edges with paper between them: where the true boost lies, and what is wanted (hatched). */
function bands(panel) {
  const found = [];
  panel.lines.forEach((line, i) => {
    if (!line.to) return;
    const other = panel.lines.findIndex((l) => l.key === line.to);
    if (other < 0) return;
    found.push({ series: [other + 1, i + 1], fill: (plot) => (line.hatch ? hatch(plot.ctx) : soft()) });
  });
  return found;
}

function soft() {
  return `color-mix(in srgb, ${palette().pencil} 22%, transparent)`;
}

function hatch(context) {
  const tile = document.createElement("canvas");
  tile.width = tile.height = 10;
  const pen = tile.getContext("2d");
  pen.strokeStyle = palette().soft;
  pen.globalAlpha = 0.55;
  pen.beginPath();
  for (const shift of [-10, 0, 10]) {
    pen.moveTo(shift, 10);
    pen.lineTo(shift + 10, 0);
  }
  pen.stroke();
  return context.createPattern(tile, "repeat");
}

/** Names of lines that are no pull, above their left end. */
export function drawNames(plot, lines) {
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio || 1;
  ctx.save();
  ctx.font = `${16 * ratio}px system-ui, sans-serif`;
  ctx.fillStyle = palette().ink;
  ctx.textBaseline = "bottom";
  ctx.textAlign = "left";
  lines.forEach((line, i) => {
    if (!line.title) return;
    const x = plot.data[0].findIndex((v, at) => v >= plot.scales.x.min && plot.data[i + 1][at] !== null);
    if (x < 0) return;
    ctx.fillText(line.title, bbox.left + 6 * ratio, plot.valToPos(plot.data[i + 1][x], "y", true) - 5 * ratio);
  });
  ctx.restore();
}

/** Stretches of x with a name, such as the pulls within a recording. */
export function drawSpans(plot, spans) {
  const { ctx, bbox } = plot;
  const ratio = devicePixelRatio || 1;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.font = `600 ${16 * ratio}px system-ui, sans-serif`;
  ctx.textBaseline = "top";
  ctx.textAlign = "left";
  let free = -Infinity;
  for (const span of spans) {
    const left = plot.valToPos(span.from, "x", true);
    const right = plot.valToPos(span.to, "x", true);
    if (right < bbox.left || left > bbox.left + bbox.width) continue;
    ctx.fillStyle = palette().pencil;
    ctx.globalAlpha = 0.14;
    ctx.fillRect(left, bbox.top, Math.max(right - left, 2 * ratio), bbox.height);
    ctx.globalAlpha = 1;
    ctx.fillRect(left, bbox.top, Math.max(right - left, 2 * ratio), 3 * ratio);
    const at = Math.max(left, bbox.left) + 4 * ratio;
    if (span.name && at > free) {
      ctx.fillStyle = palette().ink;
      ctx.fillText(span.name, at, bbox.top + 6 * ratio);
      free = at + ctx.measureText(span.name).width + 6 * ratio;
    }
  }
  ctx.restore();
}
