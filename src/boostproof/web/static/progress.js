// Long work: <… data-task="/jobs/3/tasks/12" data-parts="main"> is asked how far it is; when it is done the named
// elements are put in anew. data-so-far="id": that element and the stations are put in anew when more is known than
// data-known says.

import { onShown, serverAway, show } from "./enhance.js";

// ms: soon at first, since much is done within a second or two, then less and less often
const SOON = 120;
const EVERY = 700;

onShown((root) => root.querySelectorAll("[data-task]").forEach(watch));

function watch(element) {
  if (element.dataset.watched) return;
  element.dataset.watched = "yes";
  const says = element.querySelector("[data-says]");
  const bar = element.querySelector("progress");
  const early = element.dataset.soFar;
  let known = JSON.stringify(JSON.parse(element.dataset.known || "null"));
  let pause = SOON;
  const ask = async () => {
    if (!element.isConnected) return;
    pause = Math.min(1.2 * pause, EVERY);
    let task;
    try {
      const answer = await fetch(element.dataset.task, { headers: { Accept: "application/json" } });
      task = await answer.json();
    } catch {
      serverAway();
      setTimeout(ask, 4 * EVERY);
      return;
    }
    if (task.state === "waiting" || task.state === "running") {
      if (bar) bar.value = task.share;
      if (says && task.says && says.textContent !== task.says) says.textContent = task.says;
      const now = JSON.stringify(task.so_far);
      if (early && task.so_far && now !== known) await show(location.href, [early, "stations"]).then(() => { known = now; }, () => {});
      setTimeout(ask, pause);
      return;
    }
    const ids = (element.dataset.parts || "main").split(/\s+/).filter(Boolean);
    await show(location.href, [...ids, "stations", "next"]).catch(() => location.reload());
  };
  setTimeout(ask, pause);
}
