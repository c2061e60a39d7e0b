// @ts-check
"use strict";
// The open sign: its verdict with the reason, its readings written out and sounding, how they are played.

/** Open a sign. @param {number} index */
function openSign(index) {
  if (opened === index) return;
  const before = opened;
  opened = index;
  leaveBlind();
  stopSound();
  byId("panel").hidden = false;
  document.body.classList.add("sheet-open");
  showPanel();
  panelPart(".panel-body").scrollTop = 0;
  if (before >= 0) dress(byId("score"), before);
  dress(byId("score"), index);
  if (layoutThatFits() !== layout) layOut();
  showSign(index, false);
  for (const row of document.querySelectorAll("tr[data-sign]"))
    row.classList.toggle("open", row.getAttribute("data-sign") === String(index));
}

function closeSign() {
  const before = opened;
  stopSound();
  leaveBlind();
  opened = -1;
  byId("panel").hidden = true;
  document.body.classList.remove("sheet-open");
  for (const row of document.querySelectorAll("tr.open")) row.classList.remove("open");
  if (layoutThatFits() !== layout) layOut();
  if (before < 0) return;
  showSign(before, true);
  dress(byId("score"), before);
}

/** @param {string} selector @returns {Element} */
function panelPart(selector) {
  return /** @type {Element} */ (byId("panel").querySelector(selector));
}

/** Give the keyboard to the first of these controls of the panel that is there. @param {...string} keys */
function focusIn(...keys) {
  for (const key of [...keys, "listen", "next"]) {
    const found = byId("panel").querySelector(`[data-key="${CSS.escape(key)}"]`);
    if (found instanceof HTMLElement) return found.focus();
  }
}

/** What other files add under the verdict. @type {((index: number) => (Node | string)[])[]} */
const panelMore = [];

/** Make the panel anew; the keyboard stays where it was, or goes to the control named. @param {string} [key] */
function showPanel(key) {
  if (opened < 0) return;
  const sign = record.signs[opened];
  const panel = byId("panel");
  const held = document.activeElement instanceof HTMLElement && panel.contains(document.activeElement);
  const name = document.activeElement?.getAttribute("data-key") ?? "";
  const open = panel.querySelector("details.why")?.hasAttribute("open") || false;
  const down = panel.querySelector(".panel-body")?.scrollTop ?? 0;
  const listens = blind.sign === opened;
  panel.replaceChildren(
    panelHead(sign),
    make("div", { class: "panel-body" }, ...(listens ? [blindPart(opened)] : [...verdictPart(sign, open), readingsPart(opened)]), ...(sign.passage === null ? [] : [mixPart()])),
    ...(sign.passage === null ? [] : [transport()]),
  );
  panelPart(".panel-body").scrollTop = down;
  if (held) focusIn(key ?? name);
}

/** Where a sign stands, as a heading. @param {Sign} sign */
function placeHead(sign) {
  const words = whereWords(sign);
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** @param {Sign} sign */
function panelHead(sign) {
  const step = /** @param {number} by @param {string} words @param {string} key */ (by, words, key) =>
    button(words, () => leadOn(opened + by), {
      "data-key": key,
      // a button that is truly disabled would lose the keyboard
      "aria-disabled": record.signs[opened + by] ? null : "true",
      "aria-label": by < 0 ? "Ornament before" : "Next ornament",
    });
  return make(
    "div",
    { class: "panel-head" },
    make("div", {}, make("h2", {}, placeHead(sign)), make("p", { class: "printed" }, sign.printed)),
    make("div", { class: "row" }, step(-1, "‹", "before"), step(1, "›", "next"), button("Close", closeSign, { "data-key": "close" })),
  );
}

/** @param {number} index */
function leadOn(index) {
  if (record.signs[index]) openSign(index);
}

/** What is decided, by whom, and why. @param {Sign} sign @param {boolean} open */
function verdictPart(sign, open) {
  const own = otherWords(sign);
  return [
    make("p", { class: "verdict", "data-group": isHidden(opened) ? "" : sign.readings[choices[opened]].group }, verdictOf(opened)),
    ...(own ? [make("p", { class: "own" }, `${own}.`)] : []),
    ...(sign.doubtful && !isHidden(opened) ? [make("p", { class: "doubt" }, "Doubtful: hear both.")] : []),
    ...panelMore.flatMap((more) => more(opened)),
    ...(isHidden(opened) ? [] : [whyPart(sign, open)]),
  ];
}

/** What the player chose against the rule, or nothing. @param {Sign} sign */
function otherWords(sign) {
  const reading = sign.readings[choices[opened]].words;
  const before = sign.by.startsWith("plan") ? "your plan has" : "the rule would have";
  return isChanged(opened) ? `You chose ${reading}; ${before} ${sign.readings[baseOf(opened)].words}` : "";
}

/** The reason and the source, on demand. @param {Sign} sign @param {boolean} open */
function whyPart(sign, open) {
  const harmony = sign.harmony;
  /** @type {[string, string][]} */
  const facts = [];
  if (harmony) {
    const key = harmony.key ? ` in ${harmony.key}` : "";
    facts.push(["Harmony", `${harmony.chord}${harmony.roman ? `, ${harmony.roman}${key}` : ""}${harmony.figure ? `; figure ${harmony.figure}` : ""}`]);
    if (harmony.words) facts.push(["Here", harmony.words]);
  }
  const own = otherWords(sign);
  const other = own ? `${own}: ` : "";
  facts.push(["Reason", other + sign.reason], ["Source", sign.source + (sign.known ? ` (${sign.known})` : "")], ["Chosen by", other ? "you" : sign.by]);
  if (sign.today) facts.push(["Today", sign.today]);
  if (harmony && sign.small) facts.push(["Sure", `${Math.round(harmony.confidence * 100)} %${harmony.runnerUp ? `; next ${harmony.runnerUp}` : ""}`]);
  if (harmony?.evidence.length) facts.push(["Sounding", harmony.evidence.join("; ")]);
  facts.push(["Place", sign.place]);
  const list = make("dl", {}, ...facts.flatMap(([name, words]) => [make("dt", {}, name), make("dd", {}, words)]));
  return make("details", { class: "why", open }, make("summary", {}, "Why, and on whose word"), list);
}

/** A picture of some bars. @param {string} text @param {string} label */
function smallPicture(text, label) {
  const picture = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  const box = (picture.getAttribute("viewBox") || "").split(" ");
  picture.setAttribute("style", `--units: ${box[2]}`);
  picture.setAttribute("role", "img");
  picture.setAttribute("aria-label", label);
  // a long trill is wider than the panel: then it is moved sideways, by keyboard too
  const long = Number(box[2]) > 700;
  const frame = make("div", { class: "small-system", tabindex: long ? "0" : null }, document.importNode(picture, true));
  if (long) {
    frame.setAttribute("role", "group");
    frame.setAttribute("aria-label", label);
  }
  return frame;
}

/** @param {number} index */
function readingsPart(index) {
  const sign = record.signs[index];
  const rows = sign.readings.map((_, number) => readingRow(index, number));
  const heard = sign.readings.filter((reading) => reading.heard).length;
  return make(
    "fieldset",
    { class: "readings" },
    make("legend", {}, "Ways of playing it"),
    ...(sign.asPrinted ? [make("p", { class: "caption" }, "As printed"), smallPicture(sign.asPrinted, "as printed")] : []),
    ...rows,
    ...(sign.passage !== null && heard > 1 && sign.readings[choices[index]].heard
      ? [make("p", { class: "row" }, button("Listen blind", () => startBlind(index), { "data-key": "blind" }))]
      : []),
  );
}

/** @param {number} index @param {number} number */
function readingRow(index, number) {
  const sign = record.signs[index];
  const reading = sign.readings[number];
  const input = make("input", {
    type: "radio",
    name: "choice",
    checked: choices[index] === number && !isHidden(index),
    "data-key": `choice-${number}`,
  });
  input.addEventListener("change", () => choose(index, number));
  const whose = reading.whose.length ? ` (${reading.whose.join(", ")})` : "";
  const mine = choices[index] === number && !isHidden(index) ? make("span", { class: "mine" }, whoseChoice(index)) : "";
  const label = make("label", {}, input, make("span", { class: "words" }, reading.words + whose, " ", mine));
  const play =
    reading.heard && sign.passage !== null
      ? playButton(index, number, "Play", reading.words)
      : make("span", { class: "caption" }, "not heard here");
  const pictures = make("div", { class: "written" }, ...writtenParts(reading));
  return make("div", { class: "reading", "data-group": reading.group }, make("div", { class: "row" }, play, label), pictures);
}

/** Readings whose exact notes are shown, by words: as long as the page is open. @type {Set<string>} */
const shownExactly = new Set();

/** A reading written out: in shorthand where there is one, then its exact notes on demand. @param {Reading} reading */
function writtenParts(reading) {
  if (!reading.written) return [];
  const picture = smallPicture(reading.written, `${reading.words}, written out`);
  if (!reading.exact) return [picture];
  const exact = make("details", { class: "exact", open: shownExactly.has(reading.words) }, make("summary", {}, "Exact notes"));
  const draw = () => exact.children.length < 2 && exact.append(smallPicture(reading.exact || "", `${reading.words}, in exact notes`));
  exact.addEventListener("toggle", () => {
    const open = exact.hasAttribute("open");
    if (open) draw();
    shownExactly[open ? "add" : "delete"](reading.words);
  });
  if (exact.hasAttribute("open")) draw();
  return [picture, exact];
}

/** A button that plays a reading, or stops it. @param {number} index @param {number} number @param {string} words
 * @param {string} [about] */
function playButton(index, number, words, about = "") {
  const key = words === "Play" ? `play-${number}` : `play-${words}`;
  const element = button(words, () => {
    const on = player.what?.sign === index && player.what.reading === number;
    if (on) stopSound();
    else void playSound({ sign: index, reading: number, whole: whole() }).catch(soundFails);
  }, { class: "play", "data-key": key, "data-words": words, "data-about": about, "data-reading": String(number) });
  dressPlay(element);
  return element;
}

/** @param {Element} element */
function dressPlay(element) {
  const on = player.what?.sign === opened && String(player.what.reading) === element.getAttribute("data-reading");
  const words = element.getAttribute("data-words") || "";
  const about = element.getAttribute("data-about") || "";
  const blindly = words !== "Play";
  element.textContent = blindly ? `${on ? "Stop" : "Play"} ${words}` : on ? "Stop" : words;
  element.setAttribute("aria-pressed", String(on));
  if (about) element.setAttribute("aria-label", `${on ? "Stop" : "Play"} ${about}`);
}
