// @ts-check
"use strict";
// What the player decides is kept at once, in the plan beside the score; an edit by hand is seen within a second.

let version = room.piece.version;
let changing = 0;

function setUpPlan() {
  tellPlan("");
  listeners.push((index) => void keepChoice(index));
  window.setInterval(() => void lookAgain(), 700);
}

/** @param {string} words */
function tellPlan(words) {
  const piece = room.piece;
  const plan = piece.plan ? `Kept in ${piece.plan}, beside the score: ${piece.decided} of ${piece.ornaments} decided.` : "Nothing is decided yet: all is as the rules have it.";
  byId("plan-said").textContent = piece.planFault ? `The plan cannot be followed now: ${piece.planFault}` : words || plan;
}

/** @param {number} index */
async function keepChoice(index) {
  if (isChanged(index)) await decide(index, record.signs[index].readings[choices[index]].words);
}

/** Decide, or leave it to the rules again. @param {number} index @param {string | null} words */
async function decide(index, words) {
  changing += 1;
  try {
    const said = await change(ofPiece("decide"), { place: record.signs[index].place, words });
    taken(said, index);
  } catch (error) {
    choices[index] = record.signs[index].base || 0;
    tellPlan(`Not kept: ${wordsOf(error)}`);
    say(wordsOf(error));
    showAgain(index);
  } finally {
    changing -= 1;
  }
}

/** Take what the stand says of an ornament now. @param {any} said @param {number} index */
function taken(said, index) {
  room.piece = said.piece;
  version = said.piece.version;
  const old = record.signs[index];
  const playing = player.what && player.what.sign === index ? old.readings[player.what.reading].words : "";
  for (const reading of said.sign.readings) {
    const known = old.readings.find((each) => each.words === reading.words);
    reading.written = known?.written || "";
    reading.exact = known?.exact || "";
    reading.exact = known?.exact || "";
  }
  // the order on the screen stays as it is while one looks at it
  said.sign.readings.sort((/** @type {Reading} */ a, /** @type {Reading} */ b) => orderIn(old, a.words) - orderIn(old, b.words));
  const base = Math.max(said.sign.readings.findIndex((/** @type {Reading} */ each) => each.words === said.sign.now), 0);
  record.signs[index] = { ...said.sign, picture: old.picture, asPrinted: old.asPrinted, base };
  choices[index] = base;
  if (playing && player.what) player.what.reading = Math.max(said.sign.readings.findIndex((/** @type {Reading} */ each) => each.words === playing), 0);
  tellPlan("");
  showAgain(index);
}

/** @param {Sign} sign @param {string} words */
function orderIn(sign, words) {
  const at = sign.readings.findIndex((each) => each.words === words);
  return at < 0 ? 1000 : at;
}

/** @param {number} index */
function showAgain(index) {
  dress(byId("score"), index);
  showTable();
  if (index === opened && blind.sign < 0) showPanel();
}

/** Whether the plan or the score has changed on the disk. */
async function lookAgain() {
  if (changing || document.hidden) return;
  const turn = version;
  const piece = await ask(ofPiece("").slice(0, -1)).catch(() => null);
  if (!piece || changing || version !== turn || piece.version === version) return;
  room.piece = piece;
  version = piece.version;
  const fresh = await ask(ofPiece("record")).catch(() => null);
  if (!fresh) return;
  if (fresh.signs.length !== record.signs.length || fresh.sha256 !== record.sha256) {
    location.reload();
    return;
  }
  fresh.signs.forEach((/** @type {any} */ sign, /** @type {number} */ index) => taken({ sign, piece }, index));
  tellPlan(piece.planFault ? "" : "The plan was changed on the disk: read again.");
}
