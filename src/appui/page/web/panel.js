// @ts-check
"use strict";
// The open sign: its verdict with the reason, its readings written out and sounding, how they are played.

/** Open a sign. @param {number} index */
function openSign(index) {
  if (opened === index) return;
  const before = opened;
  opened = index;
  blind.sign = -1;
  stopSound();
  byId("panel").hidden = false;
  document.body.classList.add("sheet-open");
  showPanel();
  byId("panel").scrollTop = 0;
  if (before >= 0) dress(byId("score"), before);
  dress(byId("score"), index);
  void showSign(index, false);
  for (const row of document.querySelectorAll("tr[data-sign]"))
    row.classList.toggle("open", row.getAttribute("data-sign") === String(index));
}

function closeSign() {
  const before = opened;
  stopSound();
  opened = -1;
  byId("panel").hidden = true;
  document.body.classList.remove("sheet-open");
  if (before >= 0) {
    dress(byId("score"), before);
    /** @type {SVGElement | null} */ (document.querySelector(`.spot[data-sign="${before}"]`))?.focus();
  }
}

/** What other files add under the verdict. @type {((index: number) => (Node | string)[])[]} */
const panelMore = [];

function showPanel() {
  if (opened < 0) return;
  const sign = record.signs[opened];
  const panel = byId("panel");
  const held = document.activeElement instanceof HTMLElement && panel.contains(document.activeElement);
  const name = held ? document.activeElement?.getAttribute("data-key") : null;
  const open = panel.querySelector("details")?.open || false;
  panel.replaceChildren(
    panelHead(sign),
    make("p", { class: "verdict", "data-group": sign.readings[choices[opened]].group }, verdictOf(opened)),
    ...(sign.doubtful ? [make("p", { class: "doubt" }, "Doubtful: hear both.")] : []),
    ...panelMore.flatMap((more) => more(opened)),
    whyPart(sign, open),
    blind.sign === opened ? blindPart(opened) : readingsPart(opened),
    ...(sign.passage === null ? [] : [transport()]),
  );
  if (held) /** @type {HTMLElement | null} */ (panel.querySelector(name ? `[data-key="${name}"]` : "button"))?.focus();
}

/** @param {Sign} sign */
function panelHead(sign) {
  const step = /** @param {number} by @param {string} words @param {string} key */ (by, words, key) =>
    button(words, () => void leadOn(opened + by), {
      "data-key": key,
      disabled: !record.signs[opened + by],
      "aria-label": by < 0 ? "Ornament before" : "Next ornament",
    });
  return make(
    "div",
    { class: "panel-head" },
    make("div", {}, make("h2", {}, `Bar ${sign.bar}, beat ${sign.beat}`), make("p", { class: "printed" }, sign.printed)),
    make("div", { class: "row" }, step(-1, "‹", "before"), step(1, "›", "next"), button("Close", closeSign, { "data-key": "close" })),
  );
}

/** @param {number} index */
async function leadOn(index) {
  openSign(index);
  await showSign(index, false);
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
  const other = isChanged(opened) ? `You chose ${sign.readings[choices[opened]].words}; the rule would have ${sign.readings[0].words}: ` : "";
  facts.push(["Reason", other + sign.reason], ["Source", sign.source + (sign.known ? ` (${sign.known})` : "")], ["Chosen by", other ? "you" : sign.by]);
  if (harmony && sign.small) facts.push(["Sure", `${Math.round(harmony.confidence * 100)} %${harmony.runnerUp ? `; next ${harmony.runnerUp}` : ""}`]);
  if (harmony?.evidence.length) facts.push(["Sounding", harmony.evidence.join("; ")]);
  facts.push(["Place", sign.place]);
  const list = make("dl", {}, ...facts.flatMap(([name, words]) => [make("dt", {}, name), make("dd", {}, words)]));
  return make("details", { open }, make("summary", {}, "Why, and on whose word"), list);
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
    make("p", { class: "sound-said", role: "status" }),
  );
}

/** @param {number} index @param {number} number */
function readingRow(index, number) {
  const sign = record.signs[index];
  const reading = sign.readings[number];
  const input = make("input", {
    type: "radio",
    name: "choice",
    checked: choices[index] === number,
    "data-key": `choice-${number}`,
  });
  input.addEventListener("change", () => choose(index, number));
  const whose = reading.whose.length ? ` (${reading.whose.join(", ")})` : "";
  const mine = choices[index] === number ? make("span", { class: "mine" }, whoseChoice(index)) : "";
  const label = make("label", {}, input, make("span", { class: "words" }, reading.words + whose), mine);
  const play =
    reading.heard && sign.passage !== null
      ? playButton(index, number, "Play", reading.words)
      : make("span", { class: "caption" }, "not heard here");
  const written = reading.written ? [smallPicture(reading.written, `${reading.words}, written out`)] : [];
  return make("div", { class: "reading", "data-group": reading.group }, make("div", { class: "row" }, play, label), ...written);
}

/** A button that plays a reading, or stops it. @param {number} index @param {number} number @param {string} words
 * @param {string} [about] */
function playButton(index, number, words, about = "") {
  const key = `play-${number}`;
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

let wholePassage = false;
function whole() {
  return wholePassage;
}

/** Tempo, loop, and what is heard. */
function transport() {
  const factors = record.tempos.map((tempo) => tempo.factor * 100);
  const low = Math.round(Math.min(...factors) * 0.8);
  const high = Math.round(Math.max(...factors) * 1.2);
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
  const marks = record.tempos.map((tempo) =>
    button(tempo.name, () => {
      setSpeed(tempo.factor);
      showPanel();
    }, { "aria-label": `tempo ${tempo.name}, recorded`, "data-key": `tempo-${tempo.name}`, "aria-pressed": String(Math.abs(player.speed - tempo.factor) < 0.001) }),
  );
  return make(
    "div",
    { class: "transport", role: "group", "aria-label": "How it is played" },
    make("p", { class: "row" }, make("label", { for: "tempo" }, "Tempo"), range, output),
    make("p", { class: "row" }, make("span", { class: "caption" }, "Recorded at"), ...marks),
    make(
      "p",
      { class: "row checks" },
      check("Repeat", player.loop, setLoop),
      check("Accompaniment", player.parts.accompaniment, (on) => setPart("accompaniment", on)),
      check("Solo", player.parts.solo, (on) => setPart("solo", on)),
      check(passageWords(), wholePassage, setWhole),
    ),
    make("progress", { max: "1", value: "0", "aria-label": "How far" }),
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
  if (player.what) void playSound({ ...player.what, whole: on }).catch(soundFails);
}

function tempoWords() {
  const sign = record.signs[opened];
  const beats = Math.round((sign ? sign.perMinute : record.beat.per_minute) * player.speed);
  return `${Math.round(player.speed * 100)} %, ${beats} beats a minute`;
}

/** Show what is on without making the panel anew. */
function dressSound() {
  for (const element of document.querySelectorAll("button.play")) dressPlay(element);
  if (!player.what) {
    markBar();
    for (const bar of document.querySelectorAll("progress")) bar.value = 0;
  }
}

function follow() {
  if (player.what) {
    const audio = activeAudio();
    for (const bar of document.querySelectorAll("progress")) bar.value = audio.duration ? audio.currentTime / audio.duration : 0;
    markBar();
  }
  requestAnimationFrame(follow);
}
