// The size slider: the bands of every size of the trade are fetched once; between two sizes they are drawn in
// between. Nothing is asked of the server while it moves.

import { onShown, serverAway } from "./enhance.js";

const LOOKS = ["first", "second", "third"];

onShown((root) => root.querySelectorAll("[data-sizes]").forEach(begin));

async function begin(element) {
  if (element.dataset.begun) return;
  element.dataset.begun = "yes";
  let told;
  try {
    const answer = await fetch(element.dataset.sizes, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error(String(answer.status));
    told = await answer.json();
  } catch (error) {
    element.querySelector(".size-trouble").hidden = false;
    if (error instanceof TypeError) serverAway();
    return;
  }
  if (element.isConnected) slide(element, told);
}

function slide(element, told) {
  const input = element.querySelector("input[type=range]");
  const picture = document.getElementById("boost");
  const view = axes(picture, told.rpm);
  const parts = {
    bands: picture.querySelector(".bands"), legend: document.getElementById("boost-legend"),
    says: element.querySelector(".size-says"), output: element.querySelector("output"),
    chosen: document.querySelector("[data-size]"), picture,
  };
  element.querySelector("form").hidden = true;
  element.querySelector(".slide").hidden = false;
  const draw = () => show(told, view, parts, Number(input.value), input);
  input.addEventListener("input", draw);
  input.addEventListener("change", () => {
    input.value = nearest(told.sizes, Number(input.value)).size; // what can be had
    draw();
  });
  element.querySelectorAll("[data-step]").forEach((button) => {
    button.addEventListener("click", () => step(told.sizes, input, Number(button.dataset.step), draw));
  });
  input.addEventListener("keydown", (event) => {
    const way = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
    if (!way) return;
    event.preventDefault();
    step(told.sizes, input, way, draw);
  });
  draw();
}

function step(sizes, input, way, draw) {
  const here = sizes.indexOf(nearest(sizes, Number(input.value)));
  const there = Math.min(Math.max(here + way, 0), sizes.length - 1);
  input.value = sizes[there].size;
  draw();
}

function nearest(sizes, value) {
  return sizes.reduce((best, one) => (Math.abs(one.size - value) < Math.abs(best.size - value) ? one : best));
}

function axes(picture, rpm) {
  const axis = (text) => {
    const [low, high, begin, end] = text.split(" ").map(Number);
    return (value) => begin + ((value - low) / (high - low)) * (end - begin);
  };
  const y = axis(picture.dataset.y);
  return { x: rpm.map(axis(picture.dataset.x)), y };
}

// Everything of a size between two neighbours.
export function between(sizes, value) {
  let i = sizes.findIndex((one) => one.size >= value);
  if (i < 0) i = sizes.length - 1;
  const right = sizes[i];
  const left = sizes[Math.max(i - 1, 0)];
  const span = right.size - left.size;
  const share = span > 0 ? (value - left.size) / span : 1;
  const mix = (a, b) => a + (b - a) * share;
  const rows = (a, b) => a.map((row, k) => row.map((v, n) => mix(v, b[k][n])));
  const out = { exact: share === 1 || share === 0, says: (share < 0.5 ? left : right).says, bands: [] };
  for (const name of ["holds", "enough", "reaches", "stopped", "peak"]) out[name] = mix(left[name], right[name]);
  if (left.together && right.together) {
    out.bands.push({ id: "", says: null, rows: rows(left.together, right.together) });
    return out;
  }
  for (const one of right.by_cause) {
    const other = left.by_cause.find((cause) => cause.id === one.id);
    if (other) out.bands.push({ id: one.id, says: one.says, rows: rows(other.band, one.band) });
  }
  return out;
}

function show(told, view, parts, value, input) {
  const at = between(told.sizes, value);
  const exact = told.sizes.some((one) => Math.abs(one.size - value) < 1e-6);
  drawBands(parts, view, at.bands);
  tellBands(told, parts, at.bands);
  const lines = told.lines.map((line) => line.says.replace("{}", line.of === "peak"
    ? `${at.peak.toFixed(told.boost_digits)}\u202f${told.boost_unit}` : percent(at[line.of], told.words)));
  [...parts.says.children].forEach((item, k) => { if (item.textContent !== lines[k]) item.textContent = lines[k]; });
  const says = exact ? at.says : `${at.says}, ${told.words.between}`;
  parts.output.textContent = says;
  input.setAttribute("aria-valuetext", `${says}. ${lines[0]}`);
  if (parts.chosen) parts.chosen.value = nearest(told.sizes, value).size;
}

function drawBands(parts, view, bands) {
  const groups = [...parts.bands.children];
  bands.slice(0, LOOKS.length).forEach((band, k) => {
    const group = groups[k] || parts.bands.appendChild(newBand());
    group.setAttribute("class", `band ${LOOKS[k]}`);
    const [low, middle, high] = band.rows;
    const area = group.querySelector(".area");
    area.setAttribute("d", `${line(view, high)}L${line(view, low, true).slice(1)}Z`);
    if (k === 0) area.removeAttribute("fill");
    else area.setAttribute("fill", `url(#${parts.picture.id}-${LOOKS[k]})`);
    group.querySelector(".middle").setAttribute("d", line(view, middle));
  });
  groups.slice(Math.min(bands.length, LOOKS.length)).forEach((group) => group.remove());
}

function newBand() {
  const make = (name) => document.createElementNS("http://www.w3.org/2000/svg", name);
  const group = make("g");
  for (const name of ["area", "middle"]) {
    const path = make("path");
    path.setAttribute("class", name);
    group.append(path);
  }
  return group;
}

function line(view, values, back = false) {
  const points = values.map((v, k) => `${view.x[k].toFixed(1)} ${view.y(v).toFixed(1)}`);
  if (back) points.reverse();
  return `M${points.join("L")}`;
}

// The words for what is drawn: one band, or one for each cause where these part.
function tellBands(told, parts, bands) {
  const wanted = bands.map((band) => band.says || told.words.together).slice(0, LOOKS.length);
  const items = [...parts.legend.querySelectorAll("[data-band]")];
  const now = items.map((item) => item.querySelector("span").textContent);
  if (wanted.length === now.length && wanted.every((text, k) => text === now[k])) return;
  const model = items[0];
  wanted.forEach((text, k) => {
    let item = items[k];
    if (!item) {
      item = model.cloneNode(true);
      [...parts.legend.querySelectorAll("[data-band]")].at(-1).after(item);
    }
    item.dataset.band = String(k);
    item.querySelector("span").textContent = text;
    item.querySelector("g").setAttribute("class", `band ${LOOKS[k]}`);
    const area = item.querySelector(".area");
    if (k === 0) area.removeAttribute("fill");
    else area.setAttribute("fill", `url(#${parts.picture.id}-${LOOKS[k]})`);
  });
  items.slice(wanted.length).forEach((item) => item.remove());
}

function percent(share, words) {
  if (share > 0 && share < 0.01) return words.under;
  if (share > 0.99 && share < 1) return words.over;
  return `${Math.round(100 * share)}\u202f%`;
}
