// @ts-check
"use strict";
// Choices kept in this browser, by the score's digest: a page opened again is as it was left.

const KEPT = `appui choices ${record.sha256} ${record.solo}`;
let cannotKeep = false;

/** Read what was kept: the reading in words, by place. @returns {Record<string, string>} */
function keptChoices() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEPT) || "{}");
    return kept && typeof kept === "object" ? kept : {};
  } catch {
    return {};
  }
}

/** Keep what differs from the rules; places that are not on this page keep what they had. */
function keepChoices() {
  const kept = keptChoices();
  record.signs.forEach((sign, index) => {
    if (isChanged(index) || decidedHere.has(index)) kept[sign.place] = sign.readings[choices[index]].words;
    else delete kept[sign.place];
  });
  try {
    if (Object.keys(kept).length) localStorage.setItem(KEPT, JSON.stringify(kept));
    else localStorage.removeItem(KEPT);
    cannotKeep = false;
  } catch {
    cannotKeep = true;
  }
}

/** Take up what was kept, as far as this page can play it. */
function takeKept() {
  const kept = keptChoices();
  record.signs.forEach((sign, index) => {
    const found = sign.readings.findIndex((reading) => reading.words === kept[sign.place]);
    if (found >= 0 && kept[sign.place] !== undefined) choose(index, found);
  });
}

/** Everything as the rules have it again, and nothing kept. */
function forgetChoices() {
  decidedHere.clear();
  record.signs.forEach((_, index) => choose(index, baseOf(index)));
  decidedHere.clear();
  try {
    localStorage.removeItem(KEPT);
  } catch {
    // nothing was kept
  }
}
