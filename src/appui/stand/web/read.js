// @ts-check
"use strict";
// The reading room: pictures that come a moment later, all parts or the solo alone, remarks, where one was last.

/** @type {Record<string, any>} */
const drawnAs = {};
let alone = keptHere("alone", false);

async function fetchPictures() {
  const key = alone ? "1" : "0";
  byId("score").setAttribute("aria-busy", "true");
  const note = make("p", { class: "note", role: "status" }, "The score is being engraved …");
  if (!pictures.wide.length) byId("score").replaceChildren(note);
  try {
    drawnAs[key] = drawnAs[key] || (await ask(`${ofPiece("pictures")}?alone=${key}`));
  } catch (error) {
    note.textContent = `The score cannot be drawn: ${wordsOf(error)} The ornaments are in the list below.`;
    if (!note.isConnected) byId("score").replaceChildren(note);
    return;
  }
  if ((alone ? "1" : "0") !== key) return;
  const drawn = drawnAs[key];
  for (const name of /** @type {["wide", "narrow"]} */ (["wide", "narrow"])) {
    pictures[name] = drawn.layouts[name].systems;
    pictures.places[name] = drawn.layouts[name].places;
    addShapes(drawn.layouts[name].shapes);
    addFont(drawn.layouts[name].font);
  }
  for (const sign of record.signs) {
    const [small, glyphs, main] = drawn.pictures[sign.place] || [[], [], ""];
    sign.picture = { ...sign.picture, small, drawn: glyphs, main };
  }
  byId("score").removeAttribute("aria-busy");
  layOut();
  if (opened >= 0) showSign(opened, false);
}

/** The readings of the open ornament written out. @param {number} index */
async function fetchWritten(index) {
  const sign = record.signs[index];
  if (sign.readings.every((each) => each.written) || sign.passage === null) return;
  const words = sign.readings.map((each) => ["words", each.words]);
  const search = new URLSearchParams([["place", sign.place], ...words]);
  const drawn = await ask(`${ofPiece("written")}?${search}`).catch(() => null);
  if (!drawn) return;
  addShapes(drawn.shapes);
  for (const reading of record.signs[index].readings) {
    const [short, exact] = [drawn.short[reading.words] || "", drawn.pictures[reading.words] || ""];
    reading.written = short || exact;
    reading.exact = short ? exact : "";
  }
  record.signs[index].asPrinted = drawn.pictures[""] || "";
  if (index === opened && blind.sign < 0) showPanel();
}

/** What an ornament needs, its sound first: that is what is pressed. @param {number} index */
async function fetchAt(index) {
  if (record.signs[index].passage !== null) await fetchOthers(index);
  if (opened === index) await fetchWritten(index);
}

/** What was opened last is remembered, and opened again. */
let lastOpened = -1;
function watchOpened() {
  if (opened === lastOpened) return;
  lastOpened = opened;
  if (opened < 0) return;
  void fetchAt(opened);
  const place = record.signs[opened].place;
  if (mayChange) void change(ofPiece("here"), { place }).catch(() => null);
  history.replaceState(null, "", `#${encodeURIComponent(place)}`);
}

/** @type {{remarks: Record<string, string>, decide: string[]}} */
let remarks = { remarks: {}, decide: [] };

/** What stands under the verdict. @param {number} index @returns {(Node | string)[]} */
function moreAt(index) {
  const sign = record.signs[index];
  const parts = [];
  if (mayChange && sign.by.startsWith("plan") && sign.rule)
    parts.push(
      make("p", { class: "row" }, make("span", { class: "caption" }, `The rule would have “${sign.rule}”.`), button("As the rule has it", () => void decide(index, null), { "data-key": "rule" })),
    );
  const remark = remarks.remarks[sign.place] || "";
  if (remark && !mayChange) parts.push(make("p", { class: "remark" }, remark));
  if (mayChange) parts.push(remarkField(sign.place, remark));
  return parts;
}

/** @param {string} place @param {string} words */
function remarkField(place, words) {
  const box = /** @type {HTMLTextAreaElement} */ (make("textarea", { rows: "2", "data-key": "remark", maxlength: "2000" }));
  box.value = words;
  box.addEventListener("input", () => {
    remarks.remarks[place] = box.value;
  });
  box.addEventListener("change", () => {
    void change(ofPiece("remarks"), remarks).catch((error) => tellPlan(wordsOf(error)));
  });
  return make("details", { class: "remark", open: Boolean(words) }, make("summary", {}, words ? "Your remark" : "A remark of yours"), make("label", { class: "hush-label" }, "Words at this ornament", box));
}

function showHead() {
  const piece = room.piece;
  const parts = [tick("The solo alone", alone, (on) => {
    alone = on;
    keepHere("alone", on);
    void fetchPictures();
  })];
  if (piece.movements.length > 1)
    parts.push(picker("Movement", piece.movements.map((/** @type {any} */ m) => [m.first_bar, `${m.number} ${m.heading}`]), piece.movements[0].first_bar, goToBar));
  parts.push(picker("Tuned to", [["440", "A4 = 440"], ["430", "430"], ["415", "415"], ["392", "392"], ["442", "442"], ["466", "466"]], sounds.pitch, (value) => soundChanged("pitch", value)));
  parts.push(picker("Temperament", TUNINGS, sounds.tuning, (value) => soundChanged("tuning", value)));
  parts.push(picker("Solo sounds as", PROGRAMS, sounds.program, (value) => soundChanged("program", value)));
  byId("head-more").replaceChildren(make("p", { class: "row" }, ...parts), ...startLines());
}

/** @type {[string, string][]} */
const TUNINGS = [["equal", "equal"], ["vallotti", "Vallotti"], ["young-2", "Young 2"], ["werckmeister-3", "Werckmeister III"], ["kirnberger-3", "Kirnberger III"], ["sixth-comma", "sixth-comma meantone"], ["quarter-comma", "quarter-comma meantone"]];
/** General MIDI numbers from 0 @type {[string, string][]} */
const PROGRAMS = [["", "what it is"], ["68", "oboe"], ["73", "flute"], ["71", "clarinet"], ["70", "bassoon"], ["40", "violin"], ["42", "cello"], ["60", "horn"], ["52", "voice"], ["6", "harpsichord"], ["0", "piano"]];

/** @param {string} key @param {string} value */
function soundChanged(key, value) {
  sounds[key] = value;
  keepHere("sounds", sounds);
  playOn();
}

/** Which solo it is, where it was only guessed and nothing is decided. */
function startLines() {
  const piece = room.piece;
  if (!mayChange || piece.plan || !piece.guessed || piece.parts.length < 2) return [];
  const names = piece.parts.map((/** @type {string} */ name) => [name, name]);
  return [
    make("p", { class: "row" }, make("span", {}, `Taken for the solo: ${piece.solo}.`), picker("Another part", [["", "no, that is right"], ...names], "", (solo) => {
      if (solo) void change(ofPiece("settings"), { solo, style: "" }).then(() => location.reload(), (error) => tellPlan(wordsOf(error)));
    })),
  ];
}

/** @param {string} first */
function goToBar(first) {
  const movement = room.piece.movements.find((/** @type {any} */ each) => each.first_bar === first);
  const numbers = room.piece.movements.slice(0, room.piece.movements.indexOf(movement));
  const index = numbers.reduce((/** @type {number} */ sum, /** @type {any} */ each) => sum + each.bars, 0);
  const frame = byId("score").children[systemOf(index)];
  if (!frame) return;
  draw(frame);
  frame.scrollIntoView({ block: "center" });
}

async function startReading() {
  panelMore.push(moreAt);
  showHead();
  new MutationObserver(watchOpened).observe(byId("panel"), { childList: true, attributes: true });
  const drawing = fetchPictures();
  remarks = await ask(ofPiece("remarks")).catch(() => remarks);
  const place = decodeURIComponent(location.hash.slice(1));
  const index = record.signs.findIndex((sign) => sign.place === place);
  if (index >= 0) openSign(index);
  await drawing;
}
void startReading();
