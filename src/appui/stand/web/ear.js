// @ts-check
"use strict";
// The ear: drills from this piece's own places first, and the curves of what one hears.

/** @type {any} */
let trial = null;
let sitting = "";
let heardOnce = false;
let earName = keptHere("ear name", "me");
const audio = new Audio();
let part = 0;

function earPage() {
  document.title = `Ear: ${room.piece.title}`;
  byId("main").replaceChildren(
    make("h1", {}, room.piece.title),
    make("p", { class: "caption" }, "It gets harder as you succeed. Not sure: guess. Keys: 1, 2, 3 answer, r plays again."),
    make("p", { class: "row" }, field("Your name", earName, (value) => {
      earName = value || "me";
      keepHere("ear name", earName);
      void showProgress();
    })),
    make("div", { id: "ear" }),
    make("section", { class: "card", "aria-label": "How it goes" }, make("h2", {}, "How it goes"), make("div", { id: "progress" })),
    make("footer", {}, make("p", {}, "Start with the volume low.")),
  );
  document.addEventListener("keydown", (event) => {
    if (!trial || trial.done || /^(INPUT|TEXTAREA|SELECT)$/.test(/** @type {HTMLElement} */ (event.target).tagName)) return;
    const given = Number(event.key) - 1;
    if (event.key === "r") void hearTrial();
    else if (given >= 0 && given < trial.answers.length && heardOnce) void answer(given);
  });
  showKinds();
  void showProgress();
}

function showKinds() {
  byId("ear").replaceChildren(
    ...room.kinds.map((/** @type {any} */ kind) =>
      make("div", { class: "card" }, make("p", { class: "row" }, button("Begin", () => void begin(kind.name), { "aria-label": `Begin: ${kind.question}` }), make("span", {}, kind.question)),
        make("p", { class: "caption" }, kind.answers.join(" or ")))),
  );
}

/** @param {string} kind */
async function begin(kind) {
  try {
    const said = await change("/api/ear", { piece: room.piece.id, kind, name: earName, trials: 50 });
    sitting = said.sitting;
    showTrial(said, said.told);
    await hearTrial();
  } catch (error) {
    byId("ear").prepend(make("p", { class: "fault", role: "alert" }, wordsOf(error)));
  }
}

/** @param {any} next @param {string[]} told */
function showTrial(next, told) {
  trial = next;
  heardOnce = false;
  const lines = told.map((words) => make("p", { class: "told", role: "status" }, words));
  if (next.done) {
    byId("ear").replaceChildren(...lines, ...next.said.map((/** @type {string} */ words) => make("p", {}, words)), make("p", { class: "row" }, button("Back to the drills", showKinds)));
    void showProgress();
    return;
  }
  byId("ear").replaceChildren(
    ...lines,
    make("h2", {}, `${next.asked + 1}. ${next.question}`),
    make("p", { class: "caption" }, `${next.level}; at most ${next.of}`),
    make("p", { class: "row" }, button("Hear it", () => void hearTrial(), { id: "hear" }), make("span", { id: "which", role: "status" })),
    make("p", { class: "row answers" }, ...next.answers.map((/** @type {string} */ words, /** @type {number} */ given) => button(`${given + 1}  ${words}`, () => void answer(given), { "data-answer": String(given) }))),
    make("p", { class: "row" }, button("End here", () => {
      audio.pause();
      trial = null;
      showKinds();
      void showProgress();
    })),
  );
}

async function hearTrial() {
  const which = byId("which");
  for (part = 0; trial && part < trial.intervals; part += 1) {
    which.textContent = trial.intervals > 1 ? (part ? "second" : "first") : "";
    const turn = trial;
    await played(`/api/ear/${sitting}/sound.wav?interval=${part}&n=${trial.asked}`).catch((error) => {
      which.textContent = wordsOf(error);
    });
    if (turn !== trial) return;
    heardOnce = true;
    if (part + 1 < trial.intervals) await new Promise((resolve) => window.setTimeout(resolve, 700));
  }
}

/** @param {string} address @returns {Promise<void>} */
function played(address) {
  return new Promise((resolve, reject) => {
    audio.onended = () => resolve();
    audio.onerror = () => reject(new Error("this browser does not play the sound"));
    audio.src = address;
    // a player who knows may answer before the end
    audio.onplaying = () => (heardOnce = true);
    audio.play().catch(reject);
  });
}

/** @param {number} given */
async function answer(given) {
  audio.pause();
  const now = trial;
  trial = null;
  try {
    const said = await change(`/api/ear/${sitting}`, { given });
    const words = said.equal ? "Both were equal. " : said.right ? "Right. " : "No. ";
    showTrial(said.next, [words + said.why + (said.warned ? ` (${said.warned})` : "")]);
    if (!said.next.done) window.setTimeout(() => void hearTrial(), 900);
  } catch (error) {
    trial = now;
    byId("which").textContent = wordsOf(error);
  }
}

async function showProgress() {
  const said = await ask(`/api/ear?${query({ name: earName })}`).catch(() => null);
  if (!said) return;
  const chart = make("div", { class: "chart" });
  chart.append(pictureOf(said.svg));
  byId("progress").replaceChildren(chart);
}

earPage();
