// The form of a reading: steppers for gloves, words in place of numbers, and what a reading means while it is typed.
// A form with data-try asks for the ranking first ("boostproof:tried", detail: the answer), then for the meaning.

import { onShown, serverAway } from "./enhance.js";

const TYPING = 70; // ms after the last key; a tap counts at once
const waits = new WeakMap();
const turns = new WeakMap();

// A stepper held down goes on by itself, and faster after a while.
let holding = 0;

document.addEventListener("pointerdown", (event) => {
  const button = event.target.closest("[data-step]");
  if (!button || event.button) return;
  let taps = 0;
  const again = () => {
    press(button, (taps += 1) > 15 ? 4 : 1);
    holding = setTimeout(again, 110);
  };
  holding = setTimeout(again, 450);
});

for (const end of ["pointerup", "pointercancel", "blur"]) addEventListener(end, () => clearTimeout(holding));

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-step]");
  if (button) press(button, 1);
});

function press(button, times) {
  const field = document.getElementById(button.dataset.for);
  step(field, times * Number(button.dataset.step));
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

function step(field, by) {
  const [, number, rest] = field.value.trim().match(/^(-?[\d.,]*)(.*)$/);
  const decimals = (String(Math.abs(by)).split(".")[1] || "").length;
  const next = Math.max(0, (parseFloat(number.replace(",", ".")) || 0) + by);
  const kept = Math.max(decimals, (number.split(/[.,]/)[1] || "").length);
  field.value = next.toFixed(kept) + (/^\s*[a-z%]/i.test(rest) ? rest : "");
}

document.addEventListener("input", (event) => {
  const box = event.target.closest(".measure");
  if (box) {
    const text = box.querySelector("input[id]");
    const words = [...box.querySelectorAll("[type=checkbox]")];
    if (event.target === text && text.value) words.forEach((word) => { word.checked = false; });
    if (event.target.type === "checkbox" && event.target.checked) {
      text.value = "";
      words.filter((word) => word !== event.target).forEach((word) => { word.checked = false; });
    }
    showUnit(box);
  }
  const form = event.target.form;
  if (form && form.matches("form.reading")) ask(form, event.target.matches("[type=radio], [type=checkbox]") ? 0 : TYPING);
});

document.addEventListener("change", (event) => {
  if (event.target.form && event.target.form.dataset.atOnce !== undefined) event.target.form.requestSubmit();
});

document.addEventListener("boostproof:restored", (event) => {
  if (event.target.matches("form.reading")) ask(event.target, 0);
});

onShown((root) => root.querySelectorAll(".measure").forEach(showUnit));

// A unit that was typed stands for itself.
function showUnit(box) {
  const unit = box.querySelector(".unit");
  const text = box.querySelector("input[id]").value.replace(/\b(or|about)\b/g, "");
  if (unit) unit.hidden = /[a-z%]/i.test(text);
}

function ask(form, after) {
  clearTimeout(waits.get(form));
  waits.set(form, setTimeout(() => tell(form), after));
}

async function tell(form) {
  const turn = (turns.get(form) || 0) + 1;
  turns.set(form, turn);
  const said = new URLSearchParams([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  const post = async (address) => {
    const answer = await fetch(address, { method: "POST", body: said, headers: { Accept: "application/json" } });
    return answer.json();
  };
  try {
    if (form.dataset.try) {
      const tried = await post(form.dataset.try);
      if (turns.get(form) !== turn) return;
      form.dispatchEvent(new CustomEvent("boostproof:tried", { bubbles: true, detail: tried }));
    }
    const meant = await post(form.dataset.meaning);
    if (turns.get(form) === turn && !meant.error) show(form, meant);
  } catch {
    serverAway();
  }
}

function show(form, meant) {
  const said = { ...meant.questions, ...meant.wrong };
  for (const message of form.querySelectorAll("[data-message]")) {
    const text = said[message.dataset.message] || "";
    if (message.textContent !== text) message.textContent = text;
    message.hidden = !text;
  }
  const place = form.querySelector("#meaning");
  const parts = [];
  if (meant.figures.length) parts.push(table(meant.figures, place.dataset.sound));
  for (const remark of meant.remarks) parts.push(made("p", remark, "message"));
  if (!parts.length) parts.push(made("p", place.dataset.nothing, "soft"));
  place.replaceChildren(...parts);
}

function table(figures, sound) {
  const list = made("dl", "", "meant");
  for (const figure of figures) {
    const row = made("div", "", figure.verdict.replaceAll(" ", "-"));
    const value = made("dd", "");
    value.append(made("strong", figure.measured));
    if (figure.sound !== "-") value.append(` (${sound} ${figure.sound})`);
    value.append(made("span", figure.says));
    row.append(made("dt", figure.name), value);
    list.append(row);
  }
  return list;
}

function made(name, text, look = "") {
  const element = document.createElement(name);
  element.textContent = text;
  if (look) element.className = look;
  return element;
}
