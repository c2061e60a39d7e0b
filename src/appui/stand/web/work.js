// @ts-check
"use strict";
// Files that are being made: how far they are, where they lie, and how to stop them.

/** @type {number | undefined} */
let workTimer;
async function showWork() {
  clearTimeout(workTimer);
  const list = document.getElementById("work");
  if (!list) return;
  const said = await ask("/api/work").catch(() => ({ work: [] }));
  list.replaceChildren(...said.work.slice(0, 12).map(workRow));
  if (said.work.some((/** @type {any} */ each) => each.state === "running" || each.state === "waiting")) workTimer = window.setTimeout(() => void showWork(), 700);
}

/** @param {any} work */
function workRow(work) {
  const going = work.state === "running" || work.state === "waiting";
  const words = { waiting: "waits", running: "is being made", done: "is made", failed: "was not made", stopped: "was stopped" }[/** @type {"done"} */ (work.state)];
  return make("li", {},
    make("p", {}, `${work.words} ${words}. `, ...(work.state === "done" ? [make("a", { href: `/api/work/${work.number}/file`, download: work.file }, work.file), ` (in ${work.where})`] : [])),
    ...(work.state === "failed" ? [make("p", { class: "fault" }, work.said)] : []),
    ...(going ? [make("div", { class: "does" }, button("Stop it", () => void change(`/api/work/${work.number}/stop`, {}).then(showWork)))] : []),
  );
}
