// Linked plots. A `[data-plots]` names the address of a block of numbers and holds panels (`[data-panel]`); all its
// panels share one x, one zoom and one cursor, and the cursor speaks a sentence. Every word comes with the block.
/* global uPlot */

import { unpack } from "./plot_block.js";
import { keys, pointers } from "./plot_hand.js";
import { drawNames, drawSpans, palette, panelOptions, remark } from "./plot_look.js";

const groups = new Map();
const left = new Map(); // zoom and cursor of plots that went, for those that come in their place
const AGAIN_MS = 120; // a zoom comes to rest before finer samples are asked for

/** What several panels share: numbers, zoom, cursor. */
class Group {
  constructor(element) {
    this.element = element;
    this.panels = [];
    this.block = null;
    this.range = null; // [from, to] in x, null for the whole
    this.x = null; // where the cursor stands
    this.chosen = this.checked();
    this.waiting = 0;
    this.asked = 0;
    this.resized = new ResizeObserver(() => this.panels.forEach((panel) => panel.fit()));
    element.addEventListener("change", (event) => this.changed(event));
    element.addEventListener("click", (event) => this.pressed(event));
  }

  get source() {
    return new URL(this.element.dataset.plots, document.baseURI);
  }

  /** Keys of the lines that a person has ticked, in the order of the page. */
  checked() {
    const form = this.element.dataset.chosenBy ? document.getElementById(this.element.dataset.chosenBy) : null;
    return form ? [...form.querySelectorAll("[data-line]:checked")].map((box) => box.dataset.line) : null;
  }

  wanted() {
    return [...this.element.querySelectorAll("[data-panel]")].map((panel) => panel.dataset.panel);
  }

  async load() {
    const address = this.source;
    address.searchParams.set("channels", this.wanted().join(","));
    if (this.range && this.element.dataset.finer !== undefined) {
      address.searchParams.set("from", this.range[0]);
      address.searchParams.set("to", this.range[1]);
    }
    const turn = (this.asked += 1);
    this.element.setAttribute("aria-busy", "true");
    let block;
    try {
      const reply = await fetch(address, { headers: { Accept: "application/octet-stream" } });
      if (!reply.ok) throw new Error(String(reply.status));
      block = unpack(await reply.arrayBuffer());
    } catch {
      if (turn === this.asked) this.fail();
      return;
    }
    if (turn !== this.asked) return; // a later question is under way
    this.block = block;
    this.draw();
    this.element.removeAttribute("aria-busy");
  }

  fail() {
    this.element.removeAttribute("aria-busy");
    this.say(this.element.dataset.failed || "");
    this.element.dataset.state = "failed";
  }

  draw() {
    const names = this.wanted();
    this.element.dataset.state = this.block.x.length ? "drawn" : "empty";
    const same = this.panels.length === names.length && this.panels.every((p, i) => p.fits(names[i], this.block));
    if (same) {
      this.panels.forEach((panel) => panel.renew());
    } else {
      this.panels.forEach((panel) => panel.destroy());
      const figures = [...this.element.querySelectorAll("[data-panel]")];
      this.panels = figures.map((figure, i) => new Panel(this, figure, i === figures.length - 1));
    }
    this.zoomed();
    this.point(this.x);
    performance.mark("plots-drawn");
    this.element.dispatchEvent(new CustomEvent("plots-drawn", { bubbles: true }));
  }

  /** The whole of x that there is. */
  whole() {
    const { head, x } = this.block;
    return head.whole || [x[0], x[x.length - 1]];
  }

  shown() {
    return this.range || this.whole();
  }

  zoom(from, to) {
    const [low, high] = this.whole();
    const least = (high - low) / 5000;
    if (to - from < least) [from, to] = [(from + to - least) / 2, (from + to + least) / 2];
    const width = Math.min(to - from, high - low);
    from = Math.min(Math.max(from, low), high - width);
    this.range = width >= 0.9995 * (high - low) ? null : [from, from + width];
    this.zoomed();
    if (this.element.dataset.finer !== undefined) {
      clearTimeout(this.waiting);
      this.waiting = setTimeout(() => this.load(), AGAIN_MS);
    }
  }

  zoomBy(factor, around = this.x) {
    const [from, to] = this.shown();
    const middle = around === null || around < from || around > to ? (from + to) / 2 : around;
    this.zoom(middle - (middle - from) * factor, middle + (to - middle) * factor);
  }

  zoomed() {
    const [min, max] = this.shown();
    this.panels.forEach((panel) => panel.plot.setScale("x", { min, max }));
    this.element.dataset.zoom = this.range ? this.range.map((v) => v.toFixed(2)).join(" ") : "";
    this.point(this.x);
  }

  /** Put the cursor at x (null takes it away), in every panel, and say what is there. */
  point(x) {
    this.x = x;
    this.panels.forEach((panel) => panel.point(x));
    this.say(x === null ? "" : this.sentence(x));
  }

  /** Move the cursor by a share of what is shown; what is shown follows it. */
  step(share) {
    const [from, to] = this.shown();
    const [low, high] = this.whole();
    const start = this.x === null ? (share > 0 ? from : to) : this.x;
    const x = Math.min(Math.max(start + share * (to - from), low), high);
    if (x < from) this.zoom(x, x + to - from);
    if (x > to) this.zoom(x - to + from, x);
    this.point(x);
  }

  sentence(x) {
    const { head, values } = this.block;
    const at = nearest(this.block.x, x);
    const said = new Map(); // by what the line belongs to: each pull has its own part of the sentence
    head.lines.forEach((line, i) => {
      const value = values[i][at];
      if (line.quiet || value === null || value === undefined || !this.panelNames.has(line.panel)) return;
      if (this.chosen && line.of && !this.chosen.includes(line.of)) return;
      const words = said.get(line.of || "") || { name: line.name, parts: [] };
      words.parts.push(worded(head.panels[line.panel], value));
      said.set(line.of || "", words);
    });
    const every = [...said.values()];
    const named = every.map(({ name, parts }) => (every.length > 1 && name ? `${name} ` : "") + parts.join(", "));
    const place = filled(head.words.x, { x: number(this.block.x[at], head.x.digits) });
    return named.length ? `${place}: ${named.join("; ")}` : filled(head.words.nothing, { place });
  }

  get panelNames() {
    return new Set(this.panels.map((panel) => panel.name));
  }

  say(text) {
    const line = this.element.querySelector("[data-says]");
    if (line && line.textContent !== text) line.textContent = text;
  }

  changed(event) {
    const box = event.target.closest("[data-shows-panel]");
    if (!box) return;
    const name = box.dataset.showsPanel;
    const there = this.element.querySelector(`[data-panel="${CSS.escape(name)}"]`);
    if (there) {
      there.remove();
    } else {
      const figure = this.element.querySelector("template").content.firstElementChild.cloneNode(true);
      figure.dataset.panel = name;
      this.element.querySelector("[data-panels]").append(figure);
    }
    this.load();
  }

  pressed(event) {
    const button = event.target.closest("[data-plot-do]");
    if (!button) return;
    const does = button.dataset.plotDo;
    if (does === "in") this.zoomBy(0.5);
    if (does === "out") this.zoomBy(2);
    if (does === "all") this.zoom(...this.whole());
    if (does === "to") this.zoom(Number(button.dataset.from), Number(button.dataset.to));
  }

  choose() {
    this.chosen = this.checked();
    if (!this.block) return;
    this.panels.forEach((panel) => panel.renew());
    this.point(this.x);
  }

  repaint() {
    this.panels.forEach((panel) => panel.plot.redraw(false));
  }

  destroy() {
    this.resized.disconnect();
    clearTimeout(this.waiting);
    this.asked += 1;
    this.panels.forEach((panel) => panel.destroy());
  }
}

/** One plot of a group. */
class Panel {
  constructor(group, figure, last) {
    this.group = group;
    this.figure = figure;
    this.name = figure.dataset.panel;
    this.area = figure.querySelector("[data-area]");
    this.last = last;
    this.quiet = false;
    const { head } = group.block;
    const about = head.panels[this.name] || { label: this.name, unit: "", digits: 1 };
    const caption = figure.querySelector("figcaption");
    caption.textContent = about.unit ? `${about.label}, ${about.unit}` : about.label;
    this.area.setAttribute("aria-label", filled(head.words.plot, { what: caption.textContent }));
    this.lines = head.lines.map((line, at) => ({ ...line, at })).filter((line) => line.panel === this.name);
    this.plot = new uPlot(this.options(about), this.data(), this.area);
    remark(this);
    group.resized.observe(this.area);
    this.undo = [keys(this.area, group), pointers(this.plot.over, group, this)];
  }

  options(about) {
    return {
      ...panelOptions(this, about, this.group.block.head, this.last),
      ...this.size(),
      hooks: {
        drawClear: [(plot) => drawSpans(plot, this.group.block.head.spans || [])],
        // Only now is it known where x lies after a zoom or another size.
        draw: [(plot) => drawNames(plot, this.lines), () => this.point(this.group.x)],
        setSelect: [
          (plot) => {
            const { left, width } = plot.select;
            if (width < 4) return;
            plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
            this.group.zoom(plot.posToVal(left, "x"), plot.posToVal(left + width, "x"));
          },
        ],
        setCursor: [
          (plot) => {
            if (this.quiet || plot.cursor.left === null || plot.cursor.left < 0) return;
            this.group.point(plot.posToVal(plot.cursor.left, "x"));
          },
        ],
      },
    };
  }

  size() {
    return { width: Math.max(this.area.clientWidth, 120), height: Math.max(this.area.clientHeight, 100) };
  }

  fit() {
    const { width, height } = this.size();
    if (width !== this.plot.width || height !== this.plot.height) {
      this.plot.setSize({ width, height });
      this.point(this.group.x);
    }
  }

  /** Where a line stands among those ticked; -1 where it is not. */
  rank(line) {
    return this.group.chosen && line.of ? this.group.chosen.indexOf(line.of) : 0;
  }

  /** The edges of a band are drawn for the line ticked first, and for no other. */
  data() {
    const { x, values } = this.group.block;
    const nothing = new Array(x.length).fill(null);
    return [x, ...this.lines.map((line) => (line.first && this.rank(line) !== 0 ? nothing : values[line.at]))];
  }

  fits(name, block) {
    const lines = block.head.lines.filter((line) => line.panel === this.name);
    return name === this.name && lines.length === this.lines.length && lines.every((l, i) => l.key === this.lines[i].key);
  }

  renew() {
    this.lines = this.group.block.head.lines.map((line, at) => ({ ...line, at })).filter((l) => l.panel === this.name);
    remark(this);
    this.plot.setData(this.data(), false);
    this.plot.redraw();
  }

  point(x) {
    if (!this.plot) return; // it draws while it is made
    this.quiet = true;
    const left = x === null ? -10 : this.plot.valToPos(x, "x");
    const inside = left >= 0 && left <= this.plot.over.clientWidth;
    this.plot.setCursor({ left: inside ? left : -10, top: inside ? 0 : -10 }, false);
    this.quiet = false;
  }

  destroy() {
    this.group.resized.unobserve(this.area);
    this.undo.forEach((undo) => undo());
    this.plot.destroy();
  }
}

function nearest(xs, x) {
  let low = 0;
  let high = xs.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (xs[middle] < x) low = middle;
    else high = middle;
  }
  return x - xs[low] < xs[high] - x ? low : high;
}

function number(value, digits) {
  const text = value.toLocaleString(document.documentElement.lang || "en", {
    minimumFractionDigits: digits,
    maximumFractionDigits: digits,
  });
  return /[1-9]/.test(text) ? text.replace("-", "\u2212") : text.replace("-", "");
}

function worded(panel, value) {
  const level = (panel.levels || []).find(([upTo]) => value <= upTo);
  return filled(level ? level[1] : panel.says, { value: number(value, panel.digits), unit: panel.unit });
}

function filled(words, values) {
  return (words || "").replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
}

/** Plots that came with the page or with a new part of it; those that went are let go. */
function look() {
  for (const [element, group] of groups) {
    if (!element.isConnected) {
      if (element.id) left.set(element.id, { source: element.dataset.plots, range: group.range, x: group.x });
      group.destroy();
      groups.delete(element);
    } else if (String(group.checked()) !== String(group.chosen)) {
      group.choose();
    }
  }
  for (const element of document.querySelectorAll("[data-plots]")) {
    if (groups.has(element)) continue;
    const group = new Group(element);
    const before = left.get(element.id);
    if (before && before.source === element.dataset.plots) Object.assign(group, { range: before.range, x: before.x });
    groups.set(element, group);
    group.load();
  }
}

function repaint() {
  palette(true);
  for (const group of groups.values()) group.repaint();
}

document.addEventListener("change", (event) => {
  if (event.target.matches("[data-line]")) for (const group of groups.values()) group.choose();
});
new MutationObserver(look).observe(document.body, { childList: true, subtree: true });
new MutationObserver(repaint).observe(document.documentElement, { attributes: true, attributeFilter: ["data-bay"] });
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", repaint);
let bay = null;
addEventListener("beforeprint", () => {
  bay = document.documentElement.dataset.bay ?? "";
  document.documentElement.dataset.bay = "bright"; // ink on paper, whatever the screen shows
  repaint();
});
addEventListener("afterprint", () => {
  if (bay !== null) document.documentElement.dataset.bay = bay;
  repaint();
});
look();
