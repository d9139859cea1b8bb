// Verdict: a reading that is typed moves the ranking at once. Rows glide to their new places where motion is wanted.

import "./reading.js";
import { onShown } from "./enhance.js";

const LOOK = 500; // ms between questions whether a case is open
const still = matchMedia("(prefers-reduced-motion: reduce)");

document.addEventListener("boostproof:tried", (event) => {
  const { state, ranking } = event.detail;
  const sheet = document.getElementById("ranking");
  const instant = document.querySelector("[data-instant-says]");
  if (instant) {
    instant.hidden = !(state === "opening" || state === "closed");
    instant.textContent = instant.dataset[state] || "";
  }
  if (!sheet || !ranking.length) return;
  const moved = state === "moved";
  rank(sheet, ranking);
  sheet.toggleAttribute("data-moved", moved);
  sheet.querySelector("[data-typed]").hidden = !moved;
  sheet.querySelector("[data-mark]").hidden = !(moved || sheet.hasAttribute("data-provisional"));
  besideTheForm(moved ? ranking : []);
  performance.mark("ranking-moved");
});

// A case that is being opened is asked after until it is open; then what was typed meanwhile counts.
onShown((root) => {
  const form = root.querySelector("form[data-instant=opening]");
  if (!form) return;
  form.dataset.instant = "asked";
  setTimeout(lookAgain, LOOK, form);
});

async function lookAgain(form) {
  if (!form.isConnected) return;
  const typed = () => new URLSearchParams([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  const body = typed();
  let detail = { state: "opening" };
  try {
    detail = await (await fetch(form.dataset.try, { method: "POST", body, headers: { Accept: "application/json" } })).json();
  } catch { /* the server is away: asked again */ }
  if (detail.state === "opening" || String(typed()) !== String(body)) setTimeout(lookAgain, LOOK, form);
  else if (form.isConnected && detail.ranking) form.dispatchEvent(new CustomEvent("boostproof:tried", { bubbles: true, detail }));
}

function rank(sheet, ranking) {
  const list = sheet.querySelector(".ranking");
  const blank = sheet.querySelector("template").content.firstElementChild;
  const before = new Map([...list.children].map((row) => [row.dataset.id, row.getBoundingClientRect().top]));
  const rows = new Map([...list.children].map((row) => [row.dataset.id, row]));
  for (const one of ranking) {
    const row = rows.get(one.id) || blank.cloneNode(true);
    if (!rows.has(one.id)) {
      row.dataset.id = one.id;
      row.querySelector(".what").textContent = one.title;
    }
    row.hidden = false;
    const share = row.querySelector(".share");
    if (share) share.setAttribute("width", Math.max(0.6, 100 * one.share).toFixed(2));
    row.querySelector("[data-shown]").textContent = one.shown;
    row.querySelector("[data-strength]").textContent = list.dataset.order ? "" : one.strength_says;
    list.append(row);
  }
  const shown = new Set(ranking.map((one) => one.id));
  for (const row of list.children) row.hidden = !shown.has(row.dataset.id);
  if (still.matches) return;
  for (const row of list.children) {
    const by = (before.get(row.dataset.id) ?? row.getBoundingClientRect().top) - row.getBoundingClientRect().top;
    if (by) row.animate([{ transform: `translateY(${by}px)` }, { transform: "none" }], { duration: 160, easing: "ease-out" });
  }
}

// On a narrow screen the ranking is out of sight while a reading is typed.
function besideTheForm(ranking) {
  const place = document.getElementById("with-it");
  if (!place) return;
  place.hidden = !ranking.length;
  place.querySelector("ol").replaceChildren(...ranking.slice(0, 3).map((one) => {
    const row = document.createElement("li");
    row.textContent = [one.title, one.shown || one.strength_says].filter(Boolean).join(": ");
    return row;
  }));
}
