// @ts-check
"use strict";
// A way of playing in words: whether it is one, by the same table of families and sizes that the commands walk.

/** @param {string} text @param {string} words */
function begins(text, words) {
  return text.startsWith(words) && ["", " "].includes(text.charAt(words.length));
}

/** The number a fraction or decimal stands for. @param {string} text */
function numberOf(text) {
  const [over, under] = text.split("/").map(Number);
  return under === undefined ? over : over / under;
}

/** The next size in the words, as how many letters it takes; an error says what is wrong with it.
 * @param {SizeWords[]} sizes @param {string} rest @returns {[SizeWords, number] | string} */
function takeSize(sizes, rest) {
  // patterns with words first: "12 notes a second" is not the bare number of another size
  for (const size of [...sizes].sort((one, other) => other.pattern.length - one.pattern.length)) {
    const phrase = size.phrases.find((words) => begins(rest, words));
    if (phrase) return [size, phrase.length];
    const [before, after] = size.pattern.split("{}");
    const number = size.pattern && rest.startsWith(before) && /^-?\d{1,40}(?:\/\d{1,40}|\.\d{1,40})?/.exec(rest.slice(before.length));
    if (!number || !begins(rest.slice(before.length + number[0].length), after)) continue;
    const value = numberOf(number[0]);
    if (!(value >= size.low && value <= size.high)) return `${number[0]} is outside ${size.low} to ${size.high} (${size.unit})`;
    return [size, before.length + number[0].length + after.length];
  }
  return `“${rest}” is no size of it`;
}

/** What is wrong with a way of playing a sign, or nothing. @param {Sign} sign @param {string} text */
function wrongWords(sign, text) {
  const words = text.trim().replace(/\s+/g, " ").replace(/^passing (?=\S+ of the note before)/, "before taking ")
    .replace(/^passing\b/, "before").replace(/^(hold \S+ times)$/, "$1 as long");
  const fitting = record.fitting[sign.kind] ?? ["plain"];
  const name = fitting.filter((each) => begins(words, each)).sort((one, other) => other.length - one.length)[0];
  if (!name) return `it is no way to play this ${sign.kind}; these are: ${fitting.join(", ")}`;
  const met = new Set();
  for (let rest = words.slice(name.length).trim(); rest; ) {
    const found = takeSize(record.families[name], rest);
    if (typeof found === "string") return found;
    if (met.has(found[0])) return "a size is given twice";
    met.add(found[0]);
    rest = rest.slice(found[1]).trim();
  }
  return "";
}
