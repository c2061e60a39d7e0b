// @ts-check
"use strict";
// Sound for the page's player that the stand makes when it is asked for, at any tempo, in any tuning.

/** How everything is to sound, beside the tempo. */
const sounds = keptHere("sounds", { pitch: "440", tuning: "equal", program: "", transpose: "" });
/** Sounds by their address, fetched once. @type {Map<string, Promise<Cut & {line: Line}>>} */
const fetched = new Map();
const KEPT_SOUNDS = 24;

/** @param {What} what */
function addressOf(what) {
  const sign = record.signs[what.sign];
  const tempo = `${Math.round(player.speed * 1000) / 10}%`;
  const said = { place: sign.place, words: sign.readings[what.reading].words, tempo, ...sounds, v: room.piece.version };
  return `${ofPiece("ornament.wav")}?${query(said)}`;
}

/** @param {string} address @returns {Promise<Cut & {line: Line}>} */
function fetchedSound(address) {
  const known = fetched.get(address);
  if (known) return known;
  const coming = fetchSound(address);
  fetched.set(address, coming);
  coming.catch(() => fetched.delete(address));
  if (fetched.size > KEPT_SOUNDS) fetched.delete([...fetched.keys()][0]);
  return coming;
}

/** @param {string} address @returns {Promise<Cut & {line: Line}>} */
async function fetchSound(address) {
  const answer = await asked(address);
  /** @type {Line} */
  const line = JSON.parse(answer.headers.get("appui-timeline") || "{}");
  const sides = sidesOf(await answer.arrayBuffer());
  const { rate } = record.sound;
  const lead = Math.round(line.lead_s * rate);
  const length = Math.round((line.lead_s + line.body_s) * rate) - lead;
  return { sides, lead, length, ring: sides[0].length - lead - length, early: line.early, line };
}

/** The two channels of a WAV file as the stand writes it: 16 bit, 44 bytes of head. @param {ArrayBuffer} bytes */
function sidesOf(bytes) {
  const whole = new Int16Array(bytes, 44);
  return [0, 1].map((side) => Float32Array.from({ length: whole.length / 2 }, (_, i) => whole[2 * i + side] / 32768));
}

/** A sound at the speed wanted. @param {What} what @param {...unknown} _how @returns {Promise<Cut>} */
async function soundAt(what, ..._how) {
  const speed = player.speed;
  const cut = await fetchedSound(addressOf(what));
  const sign = record.signs[what.sign];
  const passage = passageOf(what);
  const span = { from_s: 0, to_s: cut.line.body_s * speed, lead_s: cut.line.early ? cut.line.lead_s * speed : 0 };
  sign.excerpt = span;
  if (passage !== null) {
    const starts_s = cut.line.bars.map(([moment]) => (moment - cut.line.lead_s) * speed);
    Object.assign(record.passages[passage], span, { starts_s });
  }
  void fetchOthers(what.sign);
  return cut;
}

/** All ways of playing an ornament, fetched before they are asked for. @param {number} index */
async function fetchOthers(index) {
  for (const [number, reading] of record.signs[index].readings.entries()) {
    if (opened !== index) return;
    if (reading.heard) await fetchedSound(addressOf({ sign: index, reading: number, whole: false })).catch(() => null);
  }
}

/** @param {What} what @returns {Span} */
function spanOf(what) {
  return record.signs[what.sign].excerpt || { from_s: 0, to_s: 0, lead_s: 0 };
}

/** @param {What} what */
function passageOf(what) {
  return record.signs[what.sign].readings[what.reading].passage;
}

/** Which bar of a passage sounds. @param {Passage} passage @param {number} place */
function barAt(passage, place) {
  let bar = 0;
  while (bar + 1 < passage.starts_s.length && passage.starts_s[bar + 1] <= place) bar += 1;
  return bar;
}

/** Every ornament is a passage of its own here, so a place in it stays what it is. @param {number} place
 * @param {...unknown} _passages */
function carried(place, ..._passages) {
  return place;
}

/** The slowest and the quickest tempo, in hundredths of the written one. */
function tempoRange() {
  return [25, 140];
}

/** Nothing is recorded beforehand: every tempo is played as it is. @returns {{name: string, factor: number}[]} */
function recordedTempos() {
  return [];
}

/** A packed picture; the stand packs none. @param {...unknown} _packed @returns {ArrayBuffer} */
function bytesOf(..._packed) {
  throw new Error("a packed picture");
}

/** @param {...unknown} _packed @returns {string} */
function unzipped(..._packed) {
  throw new Error("a packed picture");
}
