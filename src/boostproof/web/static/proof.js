// A pull is on one side only: ticking one side takes the tick from the other.

document.addEventListener("change", (event) => {
  const box = event.target;
  if (!box.checked || !box.closest(".sides")) return;
  for (const other of box.closest("tr").querySelectorAll("input[type=checkbox]")) if (other !== box) other.checked = false;
});
