// @ts-check
"use strict";
// Listening blind: two readings behind two letters, told apart by ear, told by name afterwards.

const blind = { sign: -1, /** @type {number[]} */ pair: [], told: "", right: 0, asked: 0, all: /** @type {{place: string, right: boolean}[]} */ ([]) };

/** Two readings that can be heard, in an order by chance. @param {number} index */
function startBlind(index) {
  stopSound();
  const other = record.signs[index].readings.findIndex((r, i) => r.heard && i !== choices[index]);
  const pair = [choices[index], isChanged(index) ? baseOf(index) : other];
  if (crypto.getRandomValues(new Uint8Array(1))[0] % 2) pair.reverse();
  Object.assign(blind, { sign: index, pair, told: "" });
  dress(byId("score"), index);
  showPanel("play-A");
  say("Two ways of playing, A and B. Listen, then say which is which.");
}

/** Hear on with the names shown. */
function leaveBlind() {
  const index = blind.sign;
  blind.sign = -1;
  if (index >= 0) dress(byId("score"), index);
}

function endBlind() {
  stopSound();
  leaveBlind();
  showPanel("blind");
}

/** @param {number} index @returns {HTMLElement} */
function blindPart(index) {
  const sign = record.signs[index];
  const asked = sign.readings[Math.min(...blind.pair)];
  const letters = ["A", "B"];
  const plays = letters.map((letter, i) => playButton(index, blind.pair[i], letter));
  const answers = letters.map((letter, i) => button(`${letter} is`, () => tell(i, asked.words), { "data-key": `is-${letter}` }));
  return make(
    "div",
    { class: "blind" },
    make("h3", {}, "Listening blind"),
    make("p", { class: "row" }, ...plays),
    blind.told
      ? make("p", { class: "told", role: "status" }, blind.told)
      : make("p", { class: "row" }, make("span", {}, `Which is “${asked.words}”?`), ...answers),
    make(
      "p",
      { class: "row" },
      blind.told ? button("Once more", () => startBlind(index), { "data-key": "once-more" }) : "",
      button("Back to the list", endBlind, { "data-key": "blind-end" }),
    ),
  );
}

/** @param {number} answer @param {string} asked */
function tell(answer, asked) {
  const names = blind.pair.map((reading) => record.signs[blind.sign].readings[reading].words);
  const right = names[answer] === asked;
  blind.asked += 1;
  blind.all.push({ place: record.signs[blind.sign].place, right });
  blind.right += right ? 1 : 0;
  blind.told = `${right ? "Right" : "No"}: A is “${names[0]}”, B is “${names[1]}”. ${blind.right} right of ${blind.asked}.`;
  showPanel("once-more");
}
