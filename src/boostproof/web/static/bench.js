// Bench: the test that a link in the list names is put in beside it, without losing the place in the list.

import "./reading.js";
import { show } from "./enhance.js";

document.addEventListener("click", (event) => {
  const link = event.target.closest(".tests a");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
  event.preventDefault();
  const list = document.querySelector(".tests").scrollTop;
  const before = link.getAttribute("href");
  show(link.href, ["bench", "notices"]).then(() => {
    history.pushState(null, "", link.href);
    document.querySelector(".tests").scrollTop = list;
    const same = document.querySelector(`.tests a[href="${CSS.escape(before)}"]`);
    const sheet = document.getElementById("test");
    if (same) same.focus({ preventScroll: true });
    if (sheet.getBoundingClientRect().top < 0 || innerWidth < 900) sheet.scrollIntoView();
  }).catch(() => location.assign(link.href));
});

addEventListener("popstate", () => {
  if (document.getElementById("bench")) show(location.href, ["bench", "notices"]);
});
