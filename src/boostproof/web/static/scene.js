// The moving picture: the drawing of the boost system, the boost curve's cursor, the slider and the sentence move together.
// What moves, and by what, stands in the drawing's own data- attributes; the numbers come with the page.

const SVG = "http://www.w3.org/2000/svg";
const LONGEST = 12; // s that playing takes at most
const STILL = 1.5; // px per second below which a flow counts as none
const LEAK_SEEN = 0.04; // share of a leak's full size from which it is drawn
const calm = matchMedia("(prefers-reduced-motion: reduce)");

function mix(values, at) {
  const i = Math.floor(at), rest = at - i;
  return i + 1 < values.length ? values[i] + rest * (values[i + 1] - values[i]) : values[values.length - 1];
}

// Mass that has passed until each moment, of a flow or of several added.
function passed(series, names, time) {
  const flow = time.map((_, i) => names.reduce((sum, name) => sum + series[name][i], 0));
  const out = [0];
  for (let i = 1; i < time.length; i++) out.push(out[i - 1] + 0.5 * (flow[i] + flow[i - 1]) * (time[i] - time[i - 1]));
  return { flow, mass: out };
}

function written(value, [factor, digits, unit]) {
  let number = value * factor;
  if (Math.abs(number) < 0.5 * 10 ** -digits) number = 0;
  return `${number.toLocaleString("en-US", { minimumFractionDigits: digits, maximumFractionDigits: digits }).replace("-", "−")}\u202f${unit}`;
}

// The same changes as report/svg_pen.py makes for a still picture.
function turned(share, [degrees, x, y]) { return `rotate(${degrees * share} ${x} ${y})`; }
function slid(share, [x, y, power = 1]) { return `translate(${x * share ** power} ${y * share ** power})`; }
function squeezed(share, [at, full, upright]) {
  const left = 1 - share * (1 - full), shift = at * (1 - left);
  return upright ? `translate(0 ${shift}) scale(1 ${left})` : `translate(${shift} 0) scale(${left} 1)`;
}
const MOVES = { turn: turned, slide: slid, squeeze: squeezed };

class Scene {
  constructor(element) {
    this.element = element;
    this.data = JSON.parse(element.dataset.scene);
    this.at = Number(element.dataset.at);
    this.car = "suspected";
    this.playing = 0;
    this.range = element.querySelector("input[type=range]");
    this.play = element.querySelector("[data-play]");
    this.now = element.querySelector("[data-now]");
    this.find();
    this.cursor();
    this.listen();
    for (const part of element.querySelectorAll("[data-scrub], [data-which]")) part.hidden = false;
    this.play.hidden = calm.matches;
    this.show();
  }

  find() {
    const all = (selector) => [...this.element.querySelectorAll(selector)];
    this.moving = Object.entries(MOVES).flatMap(([how, change]) => all(`[data-${how}]`).map((node) => {
      const [name, ...numbers] = node.dataset[how].split(" ");
      return { node, name, numbers: numbers.map(Number), change };
    }));
    this.flows = all("[data-flow]").map((node) => {
      const [names, scale] = node.dataset.flow.split(" ");
      return { node, names: names.split("+"), scale: Number(scale), of: {} };
    });
    this.leaks = all("[data-leak]").map((node) => {
      const [name, full] = node.dataset.leak.split(" ");
      return { node, name, full: Number(full) };
    });
    this.pressures = all("[data-pressure]").map((node) => ({ node, name: node.dataset.pressure, hose: node.classList.contains("hose") }));
    this.values = all("[data-value]").map((node) => ({ node, name: node.dataset.value }));
    this.rows = all("[data-row]").map((node) => ({ node, name: node.dataset.row }));
    for (const [car, series] of Object.entries(this.data.cars)) {
      series.manifold = series.boost;
      for (const flow of this.flows) flow.of[car] = passed(series, flow.names, this.data.time);
    }
    const highest = Object.values(this.data.cars).flatMap((s) => [...s.turbine_inlet, ...s.boost, ...s.compressor_outlet]);
    this.most = Math.max(...highest, 1);
  }

  cursor() {
    this.curve = this.element.querySelector(".scene-curve .curves");
    const numbers = (text) => text.split(" ").map(Number);
    [this.x, this.y] = [numbers(this.curve.dataset.x), numbers(this.curve.dataset.y)];
    this.line = document.createElementNS(SVG, "path");
    this.line.setAttribute("class", "cursor");
    this.spot = document.createElementNS(SVG, "circle");
    this.spot.setAttribute("class", "spot");
    this.spot.setAttribute("r", "6");
    this.curve.append(this.line, this.spot);
  }

  listen() {
    this.range.addEventListener("input", () => { this.stop(); this.to(Number(this.range.value)); });
    this.play.addEventListener("click", () => (this.playing ? this.stop() : this.start()));
    for (const button of this.element.querySelectorAll("[data-step]")) {
      button.addEventListener("click", () => { this.stop(); this.to(Math.round(this.at) + Number(button.dataset.step)); });
    }
    for (const choice of this.element.querySelectorAll("[data-which] input")) {
      choice.addEventListener("change", () => { this.car = choice.value; this.show(); });
    }
    const follow = (event) => { this.stop(); this.to(this.under(event)); };
    this.curve.addEventListener("pointerdown", (event) => {
      this.curve.setPointerCapture(event.pointerId);
      follow(event);
    });
    this.curve.addEventListener("pointermove", (event) => { if (event.buttons) follow(event); });
    calm.addEventListener("change", () => { this.play.hidden = calm.matches; if (calm.matches) this.stop(); });
  }

  // The moment whose engine speed lies under the pointer.
  under(event) {
    const box = this.curve.getBoundingClientRect(), view = this.curve.viewBox.baseVal;
    const [low, high, begin, end] = this.x;
    const rpm = low + ((event.clientX - box.left) / box.width * view.width - begin) / (end - begin) * (high - low);
    const away = this.data.rpm.map((one) => Math.abs(one - rpm));
    return away.indexOf(Math.min(...away));
  }

  get last() { return this.data.rpm.length - 1; }

  to(at) { this.at = Math.min(Math.max(at, 0), this.last); this.show(); }

  start() {
    if (this.at >= this.last) this.at = 0;
    const time = this.data.time, whole = time[this.last] - time[0];
    const speed = Math.max(1, whole / LONGEST);
    let before = performance.now(), moment = mix(time, this.at);
    this.play.textContent = this.play.dataset.playing;
    const frame = (present) => {
      moment += speed * Math.min(present - before, 100) / 1000;
      before = present;
      let i = Math.floor(this.at);
      while (i < this.last && time[i + 1] <= moment) i++;
      this.at = i >= this.last ? this.last : i + (moment - time[i]) / (time[i + 1] - time[i]);
      this.show();
      if (this.at >= this.last) this.stop();
      else this.playing = requestAnimationFrame(frame);
    };
    this.playing = requestAnimationFrame(frame);
  }

  stop() {
    if (!this.playing) return;
    cancelAnimationFrame(this.playing);
    this.playing = 0;
    this.play.textContent = this.data.words.play;
  }

  show() {
    const series = this.data.cars[this.car], at = this.at, near = Math.round(at);
    const value = (name) => mix(series[name], at);
    for (const { node, name, numbers, change } of this.moving) {
      node.setAttribute("transform", change(Math.min(Math.max(value(name), 0), 1), numbers));
    }
    for (const { node, scale, of } of this.flows) {
      const { flow, mass } = of[this.car];
      node.classList.toggle("on", Math.abs(mix(flow, at)) * scale > STILL);
      node.style.strokeDashoffset = `${-mix(mass, at) * scale}px`;
    }
    for (const { node, name, full } of this.leaks) node.classList.toggle("on", value(name) > LEAK_SEEN * full);
    for (const { node, name, hose } of this.pressures) {
      const share = Math.max(value(name), 0) / this.most;
      node.style.strokeWidth = `${hose ? 2.5 + 9 * share : 1.5 + 17 * share}px`;
    }
    for (const { node, name } of this.rows) node.textContent = written(value(name), this.data.rows[name]);
    for (const { node, name } of this.values) {
      if (!(name in this.data.rows)) continue;
      const text = written(value(name), this.data.rows[name]);
      node.textContent = this.data.bare.includes(name) ? text.split("\u202f")[0] : text;
    }
    this.element.classList.toggle("other", this.car === "sound");
    this.said(near);
    this.point(mix(this.data.rpm, at), value("boost") * this.data.rows.boost[0]);
  }

  said(near) {
    const says = this.data.says[this.car][near];
    if (this.now.textContent !== says) this.now.textContent = says;
    if (Number(this.range.value) !== near) this.range.value = String(near);
    const boost = written(this.data.cars[this.car].boost[near], this.data.rows.boost);
    const rpm = written(this.data.rpm[near], [1, 0, "rpm"]);
    this.range.setAttribute("aria-valuetext", this.data.words.slider_says.replace("{rpm}", rpm).replace("{boost}", boost));
  }

  point(rpm, boost) {
    const place = ([low, high, begin, end], number) => begin + (number - low) / (high - low) * (end - begin);
    const x = place(this.x, rpm), y = place(this.y, boost);
    this.line.setAttribute("d", `M${x} ${this.y[2]}V${this.y[3]}`);
    this.spot.setAttribute("cx", x);
    this.spot.setAttribute("cy", y);
  }
}

function begin() {
  for (const element of document.querySelectorAll(".scene[data-scene]")) {
    if (!element.scene) element.scene = new Scene(element);
  }
}

begin();
document.addEventListener("boostproof:shown", begin);
