// Forms without losing one's place: a form with data-parts is sent beside the page, the answer's redirect is
// followed, and only the named elements are put in anew; focus and scroll stay. A form with data-keep alone goes
// to the page that it leads to. Without this script every form works as a plain one.
//
// For other modules: import {swap, show, onShown} from "./enhance.js".
//   onShown(fn)        fn(root) now, for the whole page, and again after every swap
//   show(address, ids) fetch a page and put in its elements with these ids
//   swap(ids, page)    put elements of a parsed page in place of those here
// A form sends "boostproof:sent" (detail: {address}) when it was taken, before anything is put in.

document.documentElement.classList.add("scripted");

const RETRY = 2500;
const away = document.getElementById("away");
const said = document.getElementById("said");
const waiting = new Map(); // form -> its submitter, for when the server answers again

export function onShown(fn) {
  fn(document);
  document.addEventListener("boostproof:shown", () => fn(document));
}

export function parse(text) {
  return new DOMParser().parseFromString(text, "text/html");
}

export function swap(ids, page) {
  const focus = placeOf(document.activeElement);
  for (const id of ids) {
    const here = document.getElementById(id);
    const there = page.getElementById(id);
    if (here && there) here.replaceWith(document.adoptNode(there));
  }
  if (page.title) document.title = page.title;
  document.dispatchEvent(new CustomEvent("boostproof:shown", { detail: { ids } }));
  restore(focus);
}

export async function show(address, ids) {
  const answer = await fetch(address, { headers: { Accept: "text/html" } });
  swap(ids, parse(await answer.text()));
}

function placeOf(element) {
  if (!element || element === document.body) return null;
  const form = element.closest("form");
  return {
    element, id: element.id, name: element.name, value: element.type === "radio" ? element.value : null,
    action: form && form.getAttribute("action"), typed: typeof element.value === "string" ? element.value : "",
    from: "selectionStart" in element ? element.selectionStart : null,
  };
}

function restore(place) {
  if (!place || place.element.isConnected) return;
  const inForm = place.action ? `form[action="${CSS.escape(place.action)}"] ` : "";
  const value = place.value === null ? "" : `[value="${CSS.escape(place.value)}"]`;
  const target = (place.id && document.getElementById(place.id))
    || (place.name && document.querySelector(`${inForm}[name="${CSS.escape(place.name)}"]${value}`))
    || (place.action && document.querySelector(`${inForm}button`));
  if (!target) return;
  target.focus({ preventScroll: true });
  if (place.from !== null && target.value === place.typed) {
    try { target.setSelectionRange(place.from, place.from); } catch { /* kinds of field without a cursor */ }
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.getAttribute("method") !== "post" || !(form.dataset.parts || form.dataset.keep)) return;
  event.preventDefault();
  send(form, event.submitter);
});

function send(form, submitter) {
  if (form.getAttribute("aria-busy") === "true") return;
  const data = new FormData(form);
  if (submitter && submitter.name) data.append(submitter.name, submitter.value);
  const files = [...data.values()].some((value) => value instanceof File && value.size > 0);
  const address = (submitter && submitter.getAttribute("formaction")) || form.getAttribute("action");
  const request = new XMLHttpRequest();
  request.open("POST", address);
  request.setRequestHeader("Accept", "text/html");
  form.setAttribute("aria-busy", "true");
  const bar = files ? showBar(form, request) : null;
  const ended = () => { form.removeAttribute("aria-busy"); if (bar) bar.remove(); };
  request.onerror = () => { ended(); waitForServer(form, submitter); };
  request.onload = () => { ended(); taken(form, request); };
  const multipart = form.getAttribute("enctype") === "multipart/form-data";
  request.send(multipart ? data : new URLSearchParams([...data].filter(([, value]) => typeof value === "string")));
}

function taken(form, request) {
  waiting.delete(form);
  if (request.status < 400) {
    form.dispatchEvent(new CustomEvent("boostproof:sent", { bubbles: true, detail: { address: request.responseURL } }));
  }
  const page = parse(request.responseText);
  form.querySelectorAll(":scope > .refused").forEach((one) => one.remove());
  if (!page.getElementById("main")) { refused(form, request); return; }
  const there = new URL(request.responseURL, location.href);
  const parts = (form.dataset.parts || "").split(/\s+/).filter(Boolean);
  const elsewhere = there.pathname !== location.pathname && request.status < 400;
  if (!parts.length || elsewhere) {
    if (request.status < 400) { location.assign(there); return; }
    swap(["main"], page);
  } else if (parts.every((id) => page.getElementById(id))) {
    swap(parts, page);
  } else {
    swap(["main"], page);
  }
  const first = document.querySelector("[aria-invalid='true']");
  if (request.status >= 400 && first) first.focus();
}

// The guard before the pages answers with an error object, not with a page.
function refused(form, request) {
  const said = document.createElement("p");
  said.className = "notice refused";
  said.setAttribute("role", "alert");
  try {
    const { says, do: advice } = JSON.parse(request.responseText).error;
    said.textContent = [says, advice].filter(Boolean).join(" ");
  } catch {
    said.textContent = `${request.status} ${request.statusText}`;
  }
  form.prepend(said);
}

function showBar(form, request) {
  const bar = document.getElementById("sending-words").content.firstElementChild.cloneNode(true);
  const progress = bar.querySelector("progress");
  request.upload.onprogress = (event) => {
    if (event.lengthComputable) progress.value = event.loaded / event.total;
  };
  form.append(bar);
  return bar;
}

// The server is away: say so, keep what was to be sent, and try until it answers.

let timer = 0;

function waitForServer(form, submitter) {
  waiting.set(form, submitter);
  away.hidden = false;
  if (!timer) timer = setInterval(tryAgain, RETRY);
}

async function tryAgain() {
  try {
    const answer = await fetch("/alive", { cache: "no-store" });
    if (!answer.ok) return;
  } catch {
    return;
  }
  clearInterval(timer);
  timer = 0;
  away.hidden = true;
  said.textContent = away.dataset.back;
  const forms = [...waiting];
  waiting.clear();
  for (const [form, submitter] of forms) if (form.isConnected) send(form, submitter);
}

away.addEventListener("click", (event) => {
  if (event.target.closest("[data-away-now]")) tryAgain();
});

// Other modules whose own request failed can show the band too; it goes when the server answers.
export function serverAway() {
  away.hidden = false;
  if (!timer) timer = setInterval(tryAgain, RETRY);
}
