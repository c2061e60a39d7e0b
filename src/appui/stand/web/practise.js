// @ts-check
"use strict";
// Practise: bars or one ornament, from slow to fast, with a click, in loops; the same as a file at a press.

/** @type {{first: number, last: number, place: string, mode: string, from: number, to: number, steps: number,
 *   times: number, click: boolean, count: boolean, pitch: string, tuning: string, second: string}} */
const wanted = {
  ...{ first: 0, last: Math.min(3, room.bars.length - 1), place: "", mode: "along", from: 60, to: 60, steps: 1, times: 4 },
  ...{ click: true, count: true, pitch: "440", tuning: "equal", second: "" },
  ...keptHere(`practise ${room.piece.id}`, {}),
};
/** the ornaments of the solo, as the reading room knows them @type {any[]} */
let ornaments = [];
/** @type {any} */
let drawnSolo = null;
let pressed = 0;
const MODES = /** @type {[string, string][]} */ ([
  ["along", "you play, the solo is silent"],
  ["guide", "you play, the solo softly"],
  ["whole", "listen to all"],
  ["alternate", "one way, then the other"],
]);
const SOFT = 10 ** (-12 / 20);

function practisePage() {
  document.title = `Practise: ${room.piece.title}`;
  wanted.last = Math.min(wanted.last, room.bars.length - 1);
  wanted.first = Math.min(wanted.first, wanted.last);
  byId("main").replaceChildren(
    make("h1", {}, room.piece.title),
    make("p", { class: "caption" }, "Press a bar, then another, or an ornament; Space plays and stops, the arrows make it slower and quicker."),
    make("div", { id: "what" }),
    make("div", { class: "row", id: "tempo-row" }),
    make("div", { class: "row", id: "how-row" }),
    make("div", { class: "row playing" }, button("Play", () => void playPractice(), { id: "practise-play", class: "listen" }), make("div", { class: "lamps", id: "lamps", "aria-hidden": "true" }), make("span", { id: "practise-said", role: "status" })),
    make("div", { id: "practise-score", class: "score", role: "group", "aria-label": "The solo" }),
    make("section", { class: "card", id: "takes", "aria-label": "Your take" }),
    make("section", { class: "card", id: "files", "aria-label": "Files" }),
    make("footer", {}, make("p", {}, "Start with the volume low. Rest before it hurts.")),
  );
  document.addEventListener("keydown", practiseKey);
  engine.ended = () => dressPractice();
  engine.began = (round) => dressRound(round);
  showPractice();
  requestAnimationFrame(followPractice);
  void fetchPractice();
}

async function fetchPractice() {
  try {
    const record = await ask(ofPiece("record"));
    ornaments = record.signs.filter((/** @type {any} */ sign) => sign.passage !== null);
    if (!ornaments.some((sign) => sign.place === wanted.place)) wanted.place = "";
    showPractice();
    drawnSolo = await ask(`${ofPiece("pictures")}?alone=1`);
    drawPractice();
  } catch (error) {
    tellPractice(wordsOf(error));
  }
}

/** @param {string} words */
function tellPractice(words) {
  tellAt(byId("practise-said"), words);
}

function drawPractice() {
  const layout = drawnSolo.layouts[window.innerWidth < 700 ? "narrow" : "wide"];
  addShapes(layout.shapes);
  addFont(layout.font);
  byId("practise-score").replaceChildren(
    ...layout.systems.map((/** @type {string} */ text) => {
      const frame = make("div", { class: "system drawn" });
      frame.append(pictureOf(text));
      frame.addEventListener("click", pressScore);
      return frame;
    }),
  );
  dressBars();
}

/** @param {MouseEvent} event */
function pressScore(event) {
  const word = /** @type {Element} */ (event.target).closest('[id^="word-"]');
  if (word) {
    const all = Object.keys(drawnSolo.pictures);
    const sign = ornaments.find((each) => each.place === all[Number(word.id.slice(5))]);
    if (sign) return chooseOrnament(sign.place);
  }
  const bar = barUnder(event);
  if (bar >= 0) pressBar(bar);
}

/** The bar that was pressed: the drawn one whose box holds the point. @param {MouseEvent} event */
function barUnder(event) {
  const frame = /** @type {Element} */ (event.currentTarget);
  for (const bar of frame.querySelectorAll('[id^="bar-"]')) {
    const box = bar.getBoundingClientRect();
    if (event.clientX >= box.left && event.clientX <= box.right) return Number(bar.id.slice(4));
  }
  return -1;
}

/** @param {number} bar */
function pressBar(bar) {
  if (pressed % 2 === 0 || bar < wanted.first) Object.assign(wanted, { first: bar, last: bar });
  else wanted.last = bar;
  pressed += 1;
  wanted.place = "";
  changedPractice();
}

/** @param {string} place */
function chooseOrnament(place) {
  wanted.place = place;
  const sign = ornaments.find((each) => each.place === place);
  if (sign) {
    wanted.first = Math.max(sign.barIndex - 1, 0);
    wanted.last = Math.min(sign.barIndex + 1, room.bars.length - 1);
    wanted.second = sign.readings[1]?.words || "";
  } else if (wanted.mode === "alternate") wanted.mode = "along";
  changedPractice();
}

function changedPractice() {
  keepHere(`practise ${room.piece.id}`, wanted);
  showPractice();
  if (soundingNow()) void playPractice(true);
}

/** @param {string} label @param {number} value @param {number} low @param {number} high @param {(value: number) => void} act */
function number(label, value, low, high, act) {
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "number", min: String(low), max: String(high), value: String(value), "data-key": label }));
  input.addEventListener("change", () => {
    act(Math.min(Math.max(Math.round(Number(input.value) || value), low), high));
    changedPractice();
  });
  return make("label", { class: "field" }, make("span", {}, label), input);
}

/** @param {string} words @returns {number} */
function barNamed(words) {
  return room.bars.findIndex((/** @type {any} */ bar) => bar.name === words || bar.number === words);
}

function showPractice() {
  const held = document.activeElement?.getAttribute("data-key");
  const bars = room.bars;
  const set = (/** @type {"first" | "last"} */ end) => (/** @type {string} */ words) => {
    const bar = barNamed(words);
    if (bar < 0) return tellPractice(`There is no bar ${words}.`);
    wanted[end] = bar;
    if (wanted.first > wanted.last) wanted[end === "first" ? "last" : "first"] = bar;
    wanted.place = "";
    changedPractice();
  };
  const places = [["", "no, the bars"], ...ornaments.map((sign) => [sign.place, `bar ${sign.bar}, beat ${sign.beat}: ${sign.printed}`])];
  byId("what").replaceChildren(
    make("p", { class: "row" },
      field("From bar", bars[wanted.first].name, set("first"), { "data-key": "from bar", size: "5" }),
      field("to", bars[wanted.last].name, set("last"), { "data-key": "to bar", size: "5" }),
      picker("One ornament", /** @type {any} */ (places), wanted.place, chooseOrnament),
      picker("How", MODES.filter(([name]) => name !== "alternate" || wanted.place), wanted.mode, (mode) => {
        wanted.mode = mode;
        changedPractice();
      }),
      ...secondWay(),
    ),
  );
  byId("tempo-row").replaceChildren(
    number("Tempo %", wanted.from, 20, 150, (value) => Object.assign(wanted, { from: value, to: wanted.steps > 1 ? wanted.to : value })),
    number("up to %", wanted.to, 20, 150, (value) => Object.assign(wanted, { to: value, steps: value === wanted.from ? 1 : Math.max(wanted.steps, 4) })),
    number("in steps", wanted.steps, 1, 20, (value) => Object.assign(wanted, { steps: value })),
    number("times at each", wanted.times, 1, 50, (value) => Object.assign(wanted, { times: value })),
    make("output", {}, `${Math.round((room.piece.beat * wanted.from) / 100)} beats a minute${wanted.steps > 1 ? ` to ${Math.round((room.piece.beat * wanted.to) / 100)}` : ""}`),
  );
  byId("how-row").replaceChildren(
    tick("Click", wanted.click, (on) => {
      wanted.click = on;
      setLevel("click", on ? 1 : 0);
      keepHere(`practise ${room.piece.id}`, wanted);
    }),
    tick("A bar counted before", wanted.count, (on) => {
      wanted.count = on;
      keepHere(`practise ${room.piece.id}`, wanted);
    }),
    picker("Tuned to", [["440", "A4 = 440"], ["430", "430"], ["415", "415"], ["392", "392"], ["442", "442"]], wanted.pitch, (value) => {
      wanted.pitch = value;
      changedPractice();
    }),
    picker("Temperament", [["equal", "equal"], ["vallotti", "Vallotti"], ["young-2", "Young 2"], ["werckmeister-3", "Werckmeister III"], ["quarter-comma", "quarter-comma meantone"]], wanted.tuning, (value) => {
      wanted.tuning = value;
      changedPractice();
    }),
  );
  dressPractice();
  showFiles();
  showTakes();
  dressBars();
  if (held) /** @type {HTMLElement | null} */ (document.querySelector(`[data-key="${held}"]`))?.focus();
}

function secondWay() {
  const sign = ornaments.find((each) => each.place === wanted.place);
  if (!sign || wanted.mode !== "alternate") return [];
  const ways = sign.readings.map((/** @type {any} */ each) => [each.words, each.words]);
  return [picker(`“${sign.now}” and`, ways.filter((/** @type {any} */ way) => way[0] !== sign.now), wanted.second, (value) => {
    wanted.second = value;
    changedPractice();
  })];
}

function dressBars() {
  for (let bar = 0; bar < room.bars.length; bar += 1) {
    const drawn = document.getElementById(`bar-${bar}`);
    drawn?.classList.toggle("wanted", bar >= wanted.first && bar <= wanted.last);
  }
}

/** The tempos from slow to fast, in equal steps. */
function tempos() {
  if (wanted.steps < 2 || wanted.to === wanted.from) return [wanted.from];
  return [...Array(wanted.steps).keys()].map((step) => Math.round(wanted.from + ((wanted.to - wanted.from) * step) / (wanted.steps - 1)));
}

/** @param {number} tempo @param {string} way */
function roundAddress(tempo, way) {
  const said = { bars: barsWords(), tempo: `${tempo}%`, strict: "1", pitch: wanted.pitch, tuning: wanted.tuning, v: room.piece.version };
  return `${ofPiece("bars.wav")}?${query({ ...said, reading: way ? `${wanted.place}=${way}` : "" })}`;
}

function barsWords() {
  const [first, last] = [room.bars[wanted.first].name, room.bars[wanted.last].name];
  return first === last ? first : `${first}-${last}`;
}

/** @param {boolean} [again] go on, with what was changed */
async function playPractice(again = false) {
  if (soundingNow() && !again) {
    stopRounds();
    return dressPractice();
  }
  openEngine();
  const turn = (engine.token += 1);
  const patience = setTimeout(() => tellPractice("Preparing the sound …"), 300);
  try {
    const steps = tempos();
    /** @type {Sounding[]} */
    const sounds = [];
    /** @type {boolean[]} */
    const counted = [];
    for (const tempo of steps) {
      const sign = ornaments.find((each) => each.place === wanted.place);
      const ways = wanted.mode === "alternate" && sign ? [sign.now, wanted.second] : [""];
      const made = await Promise.all(ways.map((way) => soundFrom(roundAddress(tempo, way))));
      if (turn !== engine.token) return;
      for (let time = 0; time < wanted.times; time += 1)
        for (const sound of made) {
          counted.push(time === 0 && sound === made[0] && sounds.length > 0);
          sounds.push(sound);
        }
    }
    tellPractice("");
    setLevel("others", 1);
    setLevel("solo", { along: 0, guide: SOFT, whole: 1, alternate: 1 }[/** @type {"along"} */ (wanted.mode)] ?? 1);
    setLevel("click", wanted.click ? 1 : 0);
    playRounds(sounds, { rounds: steps.length > 1 ? sounds.length : 100000, count: wanted.count && !again, counted: steps.length > 1 ? counted : [] });
    dressPractice();
  } catch (error) {
    tellPractice(`No sound: ${wordsOf(error)}`);
  } finally {
    clearTimeout(patience);
  }
}

function dressPractice() {
  const play = document.getElementById("practise-play");
  if (play) play.textContent = soundingNow() || engine.turns.length ? "Stop" : "Play";
}

/** @param {number} round */
function dressRound(round) {
  const steps = tempos();
  const each = wanted.times * (wanted.mode === "alternate" ? 2 : 1);
  const step = Math.floor(round / each) % steps.length;
  const way = wanted.mode === "alternate" ? (round % 2 ? `, “${wanted.second}”` : ", as you have it") : "";
  tellPractice(`${steps[step]} %, round ${(round % each) + 1}${steps.length > 1 ? ` of ${each}` : ""}${way}`);
  dressPractice();
}

/** @param {KeyboardEvent} event */
function practiseKey(event) {
  const target = /** @type {HTMLElement} */ (event.target);
  if (/^(INPUT|SELECT|TEXTAREA|BUTTON|A|SUMMARY)$/.test(target.tagName)) return;
  const step = { ArrowUp: 5, ArrowRight: 5, ArrowDown: -5, ArrowLeft: -5 }[event.key];
  if (event.key === " ") void playPractice();
  else if (step) {
    wanted.from = Math.min(Math.max(wanted.from + step, 20), 150);
    if (wanted.steps < 2) wanted.to = wanted.from;
    changedPractice();
  } else return;
  event.preventDefault();
}

let lampBar = -1;
function followPractice() {
  const now = soundingNow();
  const lamps = byId("lamps");
  const beats = now ? now.sound.line.clicks.filter(([, rank]) => rank < 2) : [];
  if (now && now.place >= now.sound.line.lead_s - 0.05) {
    const bar = barNow(now.sound.line, now.place);
    const [start] = now.sound.line.bars.find(([, index]) => index === bar) || [0];
    const next = now.sound.line.bars.find(([moment]) => moment > start + 0.01)?.[0] ?? now.sound.line.lead_s + now.sound.line.body_s;
    const inBar = beats.filter(([moment]) => moment >= start - 0.01 && moment < next - 0.01);
    if (lamps.childElementCount !== inBar.length) lamps.replaceChildren(...inBar.map(() => make("i")));
    inBar.forEach(([moment], index) => lamps.children[index].classList.toggle("on", moment <= now.place + 0.01));
    if (bar !== lampBar) {
      document.getElementById(`bar-${lampBar}`)?.classList.remove("bar-now");
      document.getElementById(`bar-${bar}`)?.classList.add("bar-now");
      lampBar = bar;
    }
  } else if (!now && lampBar >= 0) {
    document.getElementById(`bar-${lampBar}`)?.classList.remove("bar-now");
    lamps.replaceChildren();
    lampBar = -1;
    dressPractice();
  }
  requestAnimationFrame(followPractice);
}

// files

function showFiles() {
  if (!mayChange) return byId("files").replaceChildren();
  const tempo = wanted.steps > 1 ? `${wanted.from}%..${wanted.to}%` : `${wanted.from}%`;
  const track = (/** @type {string} */ suffix) => () =>
    void makeFile({
      kind: "track", suffix, tempo, bars: wanted.place ? "" : barsWords(), place: wanted.place, times: wanted.times, click: wanted.click,
      mode: wanted.mode === "whole" ? "guide" : wanted.mode, steps: wanted.steps, pitch: wanted.pitch === "440" ? "" : wanted.pitch,
      tuning: wanted.tuning === "equal" ? "" : wanted.tuning, count_in: wanted.count ? 1 : 0,
    });
  byId("files").replaceChildren(
    make("h2", {}, "As a file"),
    make("p", { class: "row" }, button("This track as MP3", track("mp3")), button("as FLAC", track("flac")), button("as MIDI", track("mid")),
      button("The part, as PDF", () => void makeFile({ kind: "part" }))),
    make("ul", { id: "work", class: "pieces" }),
  );
  void showWork();
}

/** @param {Record<string, unknown>} said */
async function makeFile(said) {
  try {
    await change(ofPiece("work"), said);
    await showWork();
  } catch (error) {
    tellPractice(wordsOf(error));
  }
}
