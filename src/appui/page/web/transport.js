// @ts-check
"use strict";
// Play, repeat and tempo, always in reach under the panel; what is heard, at the end of what it says.

let wholePassage = false;
function whole() {
  return wholePassage;
}

/** The control that plays what was heard last at the open sign, or what is chosen there. */
function listenButton() {
  const element = button("", () => {
    if (player.what) stopSound();
    else void playSound({ sign: opened, reading: readingToHear(), whole: whole() }).catch(soundFails);
  }, { class: "listen", "data-key": "listen" });
  dressListen(element);
  return element;
}

/** The reading that the transport plays. */
function readingToHear() {
  const last = player.last;
  return last?.sign === opened && blind.sign !== opened ? last.reading : blind.sign === opened ? blind.pair[0] : choices[opened];
}

/** @param {Element} element */
function dressListen(element) {
  const on = player.what !== null;
  const words = blind.sign === opened ? "A" : record.signs[opened]?.readings[readingToHear()].words;
  element.textContent = on ? "Stop" : "Play";
  element.setAttribute("aria-label", on ? "Stop" : `Play ${words}`);
  element.setAttribute("aria-pressed", String(on));
}

/** Play, tempo and repeat. */
function transport() {
  const [low, high] = tempoRange();
  const output = make("output", {}, tempoWords());
  const range = /** @type {HTMLInputElement} */ (
    make("input", { type: "range", min: String(low), max: String(high), step: "1", id: "tempo", "data-key": "tempo" })
  );
  range.value = String(Math.round(player.speed * 100));
  range.setAttribute("aria-valuetext", tempoWords());
  range.addEventListener("input", () => {
    setSpeed(Number(range.value) / 100);
    output.textContent = tempoWords();
    range.setAttribute("aria-valuetext", tempoWords());
  });
  return make(
    "div",
    { class: "transport", role: "group", "aria-label": "How it is played" },
    make("progress", { max: "1", value: "0", "aria-label": "How far" }),
    make("div", { class: "row" }, listenButton(), check("Repeat", player.loop, setLoop), make("label", { for: "tempo", class: "hush" }, "Tempo"), range, output),
    make("p", { class: "sound-said", role: "status" }),
  );
}

/** Which parts, how much of the passage, and the tempos recorded. */
function mixPart() {
  const marks = recordedTempos().map((tempo) =>
    button(tempo.name, () => {
      setSpeed(tempo.factor);
      showPanel();
    }, { "aria-label": `tempo ${tempo.name}, recorded`, "data-key": `tempo-${tempo.name}`, "aria-pressed": String(Math.abs(player.speed - tempo.factor) < 0.001) }),
  );
  return make(
    "div",
    { class: "mix", role: "group", "aria-label": "What is heard" },
    make(
      "p",
      { class: "row checks" },
      check("Accompaniment", player.parts.accompaniment, (on) => setPart("accompaniment", on)),
      check("Solo", player.parts.solo, (on) => setPart("solo", on)),
      ...(marks.length ? [check(passageWords(), wholePassage, setWhole)] : []),
    ),
    ...(marks.length ? [make("p", { class: "row" }, make("span", { class: "caption" }, "Recorded at"), ...marks)] : []),
  );
}

function passageWords() {
  const sign = record.signs[opened];
  if (!sign || sign.passage === null) return "Whole passage";
  const { first, last } = record.passages[sign.passage];
  return `All of bars ${first} to ${last}`;
}

/** @param {string} words @param {boolean} on @param {(on: boolean) => void} act */
function check(words, on, act) {
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "checkbox", checked: on, "data-key": words }));
  input.addEventListener("change", () => act(input.checked));
  return make("label", {}, input, words);
}

/** @param {"accompaniment" | "solo"} part @param {boolean} on */
function setPart(part, on) {
  player.parts[part] = on;
  setParts();
}

/** @param {boolean} on */
function setWhole(on) {
  wholePassage = on;
  playOn();
}

function tempoWords() {
  const sign = record.signs[opened];
  const beats = Math.round((sign ? sign.perMinute : record.beat.per_minute) * player.speed);
  return `${beats} beats a minute, ${Math.round(player.speed * 100)} %`;
}

/** Show what is on without making the panel anew. */
function dressSound() {
  for (const element of document.querySelectorAll("button.play")) dressPlay(element);
  for (const element of document.querySelectorAll("button.listen")) dressListen(element);
  if (!player.what) {
    markBar();
    for (const bar of document.querySelectorAll("progress")) bar.value = 0;
  }
}

function follow() {
  if (player.what) {
    for (const bar of document.querySelectorAll("progress")) bar.value = shareNow();
    markBar();
  }
  requestAnimationFrame(follow);
}
