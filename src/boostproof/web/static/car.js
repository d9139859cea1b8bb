// The Car page: how an answer is understood as it is typed, steppers for gloves, offers of one tap, and parts that
// stay open when the page is put in anew. Without this script the same is said when the page is saved.

import { onShown, serverAway } from "./enhance.js";

const PAUSE = 250; // ms after the last key
const timers = new WeakMap();
const open = new Map(); // id of a part -> whether it stands open
let asked = 0;

function placeFor(field) {
  return document.getElementById(`u-${field.name}`);
}

async function ask(field) {
  const form = field.form;
  const place = placeFor(field);
  if (!form || !place) return;
  const typed = field.value.trim();
  if (!typed) { say(field, { ok: true, says: "" }); return; }
  const mine = ++asked;
  field.dataset.asked = mine;
  const query = new URLSearchParams({ name: field.name, said: typed });
  let answer;
  try {
    answer = await fetch(`${form.dataset.understoodAt}?${query}`, { headers: { Accept: "application/json" } });
  } catch {
    serverAway();
    return;
  }
  if (!answer.ok || field.dataset.asked !== String(mine)) return;
  say(field, await answer.json());
}

function say(field, found) {
  const place = placeFor(field);
  place.replaceChildren();
  field.closest(".field").classList.toggle("wrong", !found.ok);
  if (found.ok) field.removeAttribute("aria-invalid");
  else field.setAttribute("aria-invalid", "true");
  if (!found.says) return;
  place.append(line(found.ok ? "so" : "message", found.says));
  if (found.do) place.append(line("do", found.do));
  if (found.offers && found.offers.length) {
    const offers = line("offers", "");
    for (const text of found.offers) {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.offer = text;
      button.textContent = text;
      offers.append(button);
    }
    offers.classList.add("scripted-only");
    place.append(offers);
  }
}

function line(name, text) {
  const made = document.createElement("p");
  made.className = name;
  made.textContent = text;
  return made;
}

function changed(field) {
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

// One tap: the number in the text goes up or down, both ends of a range do; unit and doubt stay as written.
function step(field, by) {
  const typed = field.value.trim();
  const text = typed || field.dataset.start || "";
  const doubt = text.search(/±|\+\s*\/?\s*-/);
  const told = doubt < 0 ? text : text.slice(0, doubt);
  const size = sizeOf(field.dataset.steps.split(" ").map((pair) => pair.split(":")), told);
  const moved = told.replace(/\d+(?:[.,]\d+)?/g, (number) => {
    const decimals = Math.max(decimalsOf(String(size)), decimalsOf(number));
    const next = Number(number.replace(",", ".")) + (typed ? by * size : 0);
    return String(Number(Math.max(0, next).toFixed(decimals)));
  });
  field.value = moved + text.slice(told.length);
  changed(field);
}

const decimalsOf = (number) => (number.split(/[.,]/)[1] || "").length;

function sizeOf(pairs, text) {
  if (pairs[0].length === 1) return Number(pairs[0][0]);
  const has = (name) => new RegExp(`\\d\\s*${name.replace(/[/%]/g, "\\$&")}(?![\\w/])`, "i").test(text);
  return Number((pairs.find(([name]) => has(name)) || pairs[0])[1]);
}

document.addEventListener("input", (event) => {
  const field = event.target;
  if (!(field instanceof HTMLElement) || !("understood" in field.dataset)) return;
  clearTimeout(timers.get(field));
  timers.set(field, setTimeout(() => ask(field), PAUSE));
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  if (button.dataset.step) {
    step(button.parentElement.querySelector("input"), Number(button.dataset.step));
  } else if (button.dataset.offer) {
    const field = button.closest(".field").querySelector("input[data-understood]");
    field.value = button.dataset.offer;
    field.focus();
    changed(field);
  } else if ("clearRow" in button.dataset) {
    const row = button.closest(".row");
    for (const field of row.querySelectorAll("input, select, textarea")) {
      if (field.type === "hidden") continue;
      if (field.type === "radio" || field.type === "checkbox") field.checked = field.type === "radio" && field.value === "";
      else field.value = "";
    }
    row.hidden = true;
    changed(row.querySelector("input:not([type='hidden']), select"));
  }
});

document.addEventListener("toggle", (event) => {
  if (event.target.id) open.set(event.target.id, event.target.open);
}, true);

// A link to an answer opens the part that it stands in.
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href^='#f-']");
  const target = link && document.getElementById(decodeURIComponent(link.hash.slice(1)));
  if (!target) return;
  event.preventDefault();
  for (let part = target.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
  target.scrollIntoView({ block: "center" });
  target.focus({ preventScroll: true });
});

document.addEventListener("boostproof:restored", (event) => {
  const form = event.target;
  for (const field of form.querySelectorAll("input[data-understood]")) {
    if (field.value !== field.defaultValue) ask(field);
  }
  for (const field of form.elements) {
    const typed = "defaultValue" in field && field.type === "text" && field.value !== field.defaultValue;
    const part = typed && field.closest("details");
    if (part) part.open = true;
  }
});

onShown(() => {
  for (const [id, isOpen] of open) {
    const part = document.getElementById(id);
    if (part && isOpen && !id.startsWith("new-")) part.open = true;
  }
});
