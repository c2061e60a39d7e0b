// @ts-check
"use strict";
// What the page was made from: types of the data, and small things every other file uses.

/**
 * @typedef {{words: string, mark: string, group: string, whose: string[], heard: boolean, written?: string, exact?: string,
 *   passage: number | null}} Reading
 * @typedef {{chord: string, figure: string, roman: string, key: string, words: string, confidence: number,
 *   runnerUp: string, evidence: string[]}} Harmony
 * @typedef {{place: string, bar: string, movement: string, barIndex: number, beat: string, perMinute: number, kind: string, music: string,
 *   small: boolean,
 *   printed: string, verdict: string, doubtful: boolean, harmony: Harmony | null, reason: string, source: string,
 *   known: string, by: string, readings: Reading[], passage: number | null, asPrinted?: string, embellishment: string,
 *   excerpt: Span | null, base?: number, now?: string, today?: string, rule?: string, ruleWhy?: string,
 *   picture: {small: string[], drawn: string[], main: string, word: string}}} Sign
 * @typedef {{from_s: number, to_s: number, lead_s: number}} Span
 * @typedef {{first: string, last: string, barIndex: number, starts_s: number[]} & Span} Passage
 * @typedef {{phrases: string[], pattern: string, unit: string, low: number, high: number}} SizeWords
 * @typedef {{key: number, passage: number, tempo: number, role: string,
 *   placed: [number, string, number, number, number][]}} Sheet
 * @typedef {{title: string, file: string, sha256: string, creators: string[], solo: string, style: string,
 *   plan: string, movement: string, beat: {per_minute: number, origin: string}, tempos: {name: string, factor: number}[],
 *   families: Record<string, SizeWords[]>, fitting: Record<string, string[]>,
 *   sound: {rate: number, head_s: number, tick_s: number, ring_s: number}, signs: Sign[], passages: Passage[], sheets: Sheet[],
 *   folder: string, letter?: {remarks: Record<string, string>, decide: string[], hide: boolean} | null}} PageRecord
 * @typedef {[number, number, number]} SystemPlace the index of a system's first bar, its width and height
 * @typedef {"wide" | "narrow" | "paper"} LayoutName
 * @typedef {{packed: boolean, wide: string[], narrow: string[], paper?: string[],
 *   places: {wide: SystemPlace[], narrow: SystemPlace[], paper?: SystemPlace[]}}} Pictures
 */

/** @type {PageRecord} */
const record = takeData("record");
/** @type {Pictures} */
const pictures = takeData("pictures");

/** The reading the player has chosen, by sign: an index into its readings. @type {number[]} */
const choices = record.signs.map(() => 0);

/** Where a sign stands, in words. @param {Sign} sign */
function whereWords(sign) {
  return `${sign.movement ? `${sign.movement}, ` : ""}bar ${sign.bar}, beat ${sign.beat}`;
}

/** The reading that was chosen when the page was made. @param {number} index */
function baseOf(index) {
  return record.signs[index].base || 0;
}

/** The ornaments that were decided here, though as the page has them. @type {Set<number>} */
const decidedHere = new Set();

/** Whether the answer at an ornament is hidden until it is decided. @param {number} index */
function isHidden(index) {
  return Boolean(record.letter?.hide && record.letter.decide.includes(record.signs[index].place)) && !decidedHere.has(index);
}

/** Whether an ornament is chosen otherwise than it was when the page was made. @param {number} index */
function isChanged(index) {
  return choices[index] !== baseOf(index);
}

/** What the player's reading makes of a sign, in a line. @param {number} index */
function verdictOf(index) {
  const sign = record.signs[index];
  const reading = sign.readings[choices[index]];
  if (isHidden(index)) return "to be decided by you";
  if (!isChanged(index)) return sign.verdict;
  const standing = sign.small ? sign.verdict.replace(/^[^:]*/, "") : "";
  return sign.small ? `${reading.mark}${standing}` : reading.words;
}

/** Who has chosen how an ornament is played. @param {number} index */
function whoseChoice(index) {
  return isChanged(index) || decidedHere.has(index) || record.signs[index].by.startsWith("plan") ? "your choice" : "as the rule has it";
}

/** Those who want to know of a changed choice. @type {((index: number) => void)[]} */
const listeners = [];

/** Choose a reading. @param {number} index @param {number} reading */
function choose(index, reading) {
  const hidden = isHidden(index);
  if (choices[index] === reading && !hidden) return;
  if (record.letter?.decide.includes(record.signs[index].place)) decidedHere.add(index);
  choices[index] = reading;
  for (const listener of listeners) listener(index);
}
