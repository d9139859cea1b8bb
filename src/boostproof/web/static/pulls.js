// The Pulls page: a log dropped anywhere on it is brought in, ticks and choices are shown without losing one's place.

import { onShown, show } from "./enhance.js";

const opened = new Set(); // ids of what a person unfolded, to be unfolded again when a part comes anew

document.addEventListener(
  "toggle",
  (event) => {
    const { id, open } = event.target;
    if (!id) return;
    if (open) opened.add(id);
    else if (event.target.isConnected) opened.delete(id);
  },
  true,
);

onShown((root) => {
  for (const id of opened) {
    const details = root.getElementById(id);
    if (details) details.open = true;
  }
});

// The stroke in the list is that of the plot: by the place among the ticked ones.
function strokes() {
  let rank = 0;
  for (const box of document.querySelectorAll("#pulls-chosen [data-line]")) {
    const row = box.closest("li");
    if (box.checked) row.dataset.rank = String(rank++ % 4);
    else delete row.dataset.rank;
  }
}
onShown(strokes);

// Forms that only choose what is shown: the address says it, so that a reload shows the same.
async function look(form, submitted) {
  const address = new URL(location.href);
  for (const field of form.elements) if (field.name) address.searchParams.delete(field.name);
  if (!submitted) for (const name of ["before", "after"]) address.searchParams.delete(name);
  for (const [name, value] of new FormData(form)) if (value) address.searchParams.append(name, value);
  history.replaceState(null, "", address);
  await show(address, form.dataset.get.split(" ")).catch(() => location.reload());
}

document.addEventListener("submit", (event) => {
  if (!event.target.dataset.get) return;
  event.preventDefault();
  look(event.target, true);
});
document.addEventListener("change", (event) => {
  const form = event.target.form;
  if (form && form.id === "pulls-chosen") {
    strokes();
    look(form, false);
  }
});

// Dropping.
const carries = (event) => [...(event.dataTransfer?.types || [])].includes("Files");
const zone = () => document.querySelector("form[data-drop]");

document.addEventListener("dragover", (event) => {
  if (!carries(event) || !zone()) return;
  event.preventDefault();
  zone().classList.add("over");
});
document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) zone()?.classList.remove("over");
});
document.addEventListener("drop", (event) => {
  const form = zone();
  if (!form || !carries(event)) return;
  event.preventDefault();
  form.classList.remove("over");
  form.querySelector("input[type=file]").files = event.dataTransfer.files;
  form.requestSubmit();
});
document.addEventListener("change", (event) => {
  if (event.target.matches("form[data-drop] input[type=file]") && event.target.files.length) event.target.form.requestSubmit();
});
