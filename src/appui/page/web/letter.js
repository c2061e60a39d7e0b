// @ts-check
"use strict";
// What came with the page from a teacher: remarks, what is to be decided; and the answers that go back in one file.

/** Whether a place is among those to be decided. @param {number} index */
function isAsked(index) {
  return Boolean(record.letter?.decide.includes(record.signs[index].place));
}

function setUpLetter() {
  const letter = record.letter;
  byId("letter").hidden = !letter;
  if (!letter) return;
  // where the answer is hidden its place in the list must not tell it either
  record.signs.forEach((sign, index) => {
    if (!isHidden(index)) return;
    const chosen = sign.readings[choices[index]];
    sign.readings.sort((one, other) => one.words.localeCompare(other.words));
    sign.base = choices[index] = sign.readings.indexOf(chosen);
  });
  panelMore.push((index) => {
    const words = letter.remarks[record.signs[index].place];
    return words ? [make("p", { class: "remark" }, words)] : [];
  });
  listeners.push(showLetter);
  showLetter();
}

function showLetter() {
  const asked = record.signs.map((_, index) => index).filter(isAsked);
  const left = asked.filter((index) => !decidedHere.has(index));
  const name = byId("letter").querySelector("input")?.value ?? "";
  const input = make("input", { type: "text", value: name, maxlength: "80", "data-key": "name" });
  byId("letter").replaceChildren(
    make("h2", {}, "From your teacher"),
    make("p", { role: "status" }, asked.length ? `${left.length} of ${asked.length} ornaments are still to be decided: press one, hear its ways of playing, choose.` : "There are remarks at some ornaments."),
    make("p", { class: "row" }, ...asked.map((index) => button(`${whereWords(record.signs[index])}${decidedHere.has(index) ? ", decided" : ""}`, () => openSign(index)))),
    make("p", { class: "row" }, make("label", { class: "field" }, make("span", {}, "Your name"), input), button("Save my answers", saveAnswers)),
  );
}

/** What the player has decided here, and heard blind. */
function answersText() {
  /** @type {Record<string, string>} */
  const decided = {};
  record.signs.forEach((sign, index) => {
    if (isChanged(index) || decidedHere.has(index)) decided[sign.place] = sign.readings[choices[index]].words;
  });
  const name = byId("letter").querySelector("input")?.value.trim() || "the pupil";
  const said = { format: "appui answers", version: 1, score: record.sha256, title: record.title, name, choices: decided, blind: blind.all };
  return `${JSON.stringify(said, null, 1)}\n`;
}

function saveAnswers() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([answersText()], { type: "application/json" }));
  link.download = `${record.file.replace(/\.[^.]*$/, "") || "score"}-answers.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  say(`Saved as ${link.download}: send it back.`);
}
