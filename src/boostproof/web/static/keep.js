// Nothing typed is lost: a form with data-keep="name" keeps its values in this browser on every input, puts them
// back after a reload or a crash (marked, with a way to drop them), and forgets them when the form was taken.

import { onShown } from "./enhance.js";

const prefix = `boostproof:${document.documentElement.dataset.store}:`; // job 3 of another folder is another job
const servedWith = new WeakMap(); // form -> its values as the page came

function fields(form) {
  const counts = new Map();
  return [...form.elements]
    .filter((field) => field.name && !["file", "hidden", "submit", "button", "fieldset"].includes(field.type))
    .map((field) => {
      const n = counts.get(field.name) || 0;
      counts.set(field.name, n + 1);
      return [`${field.name}#${n}`, field];
    });
}

const ticks = (field) => field.type === "checkbox" || field.type === "radio";
const valueOf = (field) => (ticks(field) ? field.checked : field.value);

function put(field, value) {
  if (ticks(field)) field.checked = value;
  else field.value = value;
}

// What the page held stays beside what was typed: what was never touched must not hide what others saved since.
function keep(form) {
  const values = now(form);
  const before = kept(form);
  const served = before ? before.served : servedWith.get(form) || values;
  try {
    localStorage.setItem(prefix + form.dataset.keep, JSON.stringify({ values, served, once: valueOf(token(form)) }));
  } catch { /* a browser that keeps nothing still sends the form */ }
}

// The form that may have arrived before its answer was lost is the same form when it is sent again (web/once.py).
const token = (form) => form.elements.namedItem("once") || { value: "" };

function now(form) {
  return Object.fromEntries(fields(form).map(([key, field]) => [key, valueOf(field)]));
}

function kept(form) {
  try {
    const found = JSON.parse(localStorage.getItem(prefix + form.dataset.keep));
    return found && found.values && found.served ? found : null;
  } catch {
    return null;
  }
}

function forget(form) {
  localStorage.removeItem(prefix + form.dataset.keep);
}

function restore(form) {
  if (form.dataset.kept) return;
  form.dataset.kept = "watched";
  const served = now(form);
  servedWith.set(form, served);
  const before = kept(form);
  if (!before) return;
  let changed = false;
  for (const [key, field] of fields(form)) {
    if (key in before.values && before.values[key] !== before.served[key] && before.values[key] !== served[key]) {
      put(field, before.values[key]);
      changed = true;
    }
  }
  if (!changed) {
    // a form that came back with mistakes holds what was typed, and it is not saved yet
    if (!form.querySelector("[aria-invalid='true'], .wrong")) forget(form);
    return;
  }
  if (before.once) token(form).value = before.once;
  const mark = document.getElementById("keep-words").content.firstElementChild.cloneNode(true);
  mark.querySelector("[data-drop]").addEventListener("click", () => {
    for (const [key, field] of fields(form)) put(field, served[key]);
    forget(form);
    mark.remove();
    form.dispatchEvent(new Event("input", { bubbles: false }));
    const first = fields(form)[0];
    if (first) first[1].focus();
  });
  form.prepend(mark);
  form.dispatchEvent(new CustomEvent("boostproof:restored", { bubbles: true }));
}

onShown((root) => root.querySelectorAll("form[data-keep]").forEach(restore));

for (const kind of ["input", "change"]) {
  document.addEventListener(kind, (event) => {
    const form = event.target.form;
    if (form && form.dataset.keep) keep(form);
  });
}
document.addEventListener("boostproof:sent", (event) => {
  if (event.target.dataset.keep) forget(event.target);
});
