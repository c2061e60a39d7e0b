// @ts-check
"use strict";
// The music stand: the solo over the bass, large, with the chords named; turned by a tap, a pedal or the sound.

const music = {
  /** @type {string[]} */ systems: [],
  /** the first system of each page @type {number[]} */ pages: [0],
  page: 0,
  width: 0,
  tempo: keptHere(`tempo ${room.piece.id}`, 100),
  click: keptHere("stand click", false),
  solo: keptHere("stand solo", false),
  /** @type {any} */ lock: null,
};
/** a staff on the stand is at least so high: 7 mm at 132 points an inch of a 9.7-inch tablet */
const STAFF_PX = 37;

function musicPage() {
  document.title = room.piece.title;
  byId("main").replaceChildren(
    make(
      "div",
      { class: "music" },
      make("h1", { class: "hush" }, room.piece.title),
      make("div", { class: "sheet", id: "sheet" }),
      turnButton("back", "Page back", () => turnTo(music.page - 1)),
      turnButton("middle", "Show or hide the controls", () => document.querySelector(".music")?.classList.toggle("plain")),
      turnButton("on", "Page on", () => turnTo(music.page + 1)),
      bar(),
    ),
  );
  document.addEventListener("keydown", musicKey);
  window.addEventListener("resize", () => {
    clearTimeout(resizeTimer);
    resizeTimer = window.setTimeout(() => void fetchMusic(), 250);
  });
  engine.ended = () => dressMusic(false);
  requestAnimationFrame(followMusic);
  void fetchMusic();
}
/** @type {number | undefined} */
let resizeTimer;

/** @param {string} name @param {string} words @param {() => void} act */
function turnButton(name, words, act) {
  return button("", act, { class: `turn ${name}`, "aria-label": words });
}

function bar() {
  const tempo = make("output", { id: "music-tempo" }, "");
  return make(
    "div",
    { class: "bar", role: "group", "aria-label": "Playing" },
    make("a", { href: `/piece/${room.piece.id}/read` }, "Back"),
    button("Play", () => void playMusic(), { id: "music-play" }),
    button("−", () => setMusicTempo(music.tempo - 5), { "aria-label": "slower" }),
    tempo,
    button("+", () => setMusicTempo(music.tempo + 5), { "aria-label": "quicker" }),
    tick("Click", music.click, (on) => {
      music.click = on;
      keepHere("stand click", on);
      setLevel("click", on ? 1 : 0);
    }),
    tick("Solo", music.solo, (on) => {
      music.solo = on;
      keepHere("stand solo", on);
      setLevel("solo", on ? 1 : 0);
    }),
    make("span", { id: "music-page", class: "caption" }),
    make("span", { id: "music-said", role: "status" }),
  );
}

/** @param {number} percent */
function setMusicTempo(percent) {
  music.tempo = Math.min(Math.max(percent, 20), 150);
  keepHere(`tempo ${room.piece.id}`, music.tempo);
  showMusicTempo();
}

function showMusicTempo() {
  byId("music-tempo").textContent = `${music.tempo} %, ${Math.round((room.piece.beat * music.tempo) / 100)}`;
}

/** How many of the engraver's units are as wide as the screen, so that a staff is high enough. */
function unitsWide() {
  const wide = byId("sheet").clientWidth || window.innerWidth;
  // a telephone is held nearer than a stand stands
  const staff = Math.min(window.innerWidth, window.innerHeight) < 600 ? STAFF_PX * 0.75 : STAFF_PX;
  return Math.min(Math.max(Math.floor((wide / staff) * 0.72) * 100, 700), 3000);
}

async function fetchMusic() {
  const width = unitsWide();
  showMusicTempo();
  if (width === music.width) return pageUp();
  music.width = width;
  tellAt(byId("music-said"), "Engraving …");
  try {
    const drawn = await ask(`${ofPiece("large")}?${query({ width })}`);
    if (width !== music.width) return;
    addShapes(drawn.shapes);
    addFont(drawn.font);
    music.systems = drawn.systems;
    tellAt(byId("music-said"), "");
    pageUp();
  } catch (error) {
    tellAt(byId("music-said"), wordsOf(error));
  }
}

/** Break the systems into pages that fit the screen, and show the one where the same music is. */
function pageUp() {
  const first = music.pages[music.page] || 0;
  const sheet = byId("sheet");
  const room_ = sheet.clientHeight;
  const wide = sheet.clientWidth;
  music.pages = [0];
  let filled = 0;
  music.systems.forEach((text, number) => {
    const box = /viewBox="0 0 ([\d.]+) ([\d.]+)"/.exec(text);
    const height = box ? (Number(box[2]) / Number(box[1])) * wide + 10 : 200;
    if (filled && filled + height > room_) {
      music.pages.push(number);
      filled = 0;
    }
    filled += height;
  });
  music.page = Math.max(music.pages.findLastIndex((start) => start <= first), 0);
  showPage();
}

function showPage() {
  const from = music.pages[music.page];
  const to = music.pages[music.page + 1] ?? music.systems.length;
  byId("sheet").replaceChildren(
    ...music.systems.slice(from, to).map((text, number) => {
      const frame = make("div", { class: "system drawn", "data-system": String(from + number) });
      const picture = pictureOf(text);
      picture.setAttribute("role", "img");
      picture.setAttribute("aria-label", `System ${from + number + 1}`);
      frame.append(picture);
      return frame;
    }),
  );
  byId("music-page").textContent = `page ${music.page + 1} of ${music.pages.length}`;
}

/** @param {number} page */
function turnTo(page) {
  if (page < 0 || page >= music.pages.length) return;
  music.page = page;
  showPage();
  say(`page ${page + 1} of ${music.pages.length}`);
}

/** @param {KeyboardEvent} event */
function musicKey(event) {
  if (event.target instanceof HTMLInputElement && event.target.type !== "checkbox") return;
  const steps = { PageDown: 1, ArrowRight: 1, ArrowDown: 1, PageUp: -1, ArrowLeft: -1, ArrowUp: -1 };
  const step = steps[/** @type {"PageDown"} */ (event.key)];
  if (step) {
    event.preventDefault();
    turnTo(music.page + step);
  } else if (event.key === " " && !(event.target instanceof HTMLButtonElement)) {
    event.preventDefault();
    void playMusic();
  } else if (event.key === "Escape") location.href = `/piece/${room.piece.id}/read`;
}

async function playMusic() {
  if (soundingNow()) {
    stopRounds();
    return dressMusic(false);
  }
  openEngine();
  const turn = (engine.token += 1);
  tellAt(byId("music-said"), "Preparing the sound …");
  try {
    const sound = await soundFrom(`${ofPiece("bars.wav")}?${query({ tempo: `${music.tempo}%`, strict: music.click ? "1" : "", v: room.piece.version })}`);
    if (turn !== engine.token) return;
    tellAt(byId("music-said"), "");
    setLevel("others", 1);
    setLevel("solo", music.solo ? 1 : 0);
    setLevel("click", music.click ? 1 : 0);
    playRounds([sound], { count: true });
    dressMusic(true);
    await stayAwake();
  } catch (error) {
    tellAt(byId("music-said"), wordsOf(error));
  }
}

/** @param {boolean} plays */
function dressMusic(plays) {
  byId("music-play").textContent = plays ? "Stop" : "Play";
  if (!plays) {
    for (const old of document.querySelectorAll(".bar-now")) old.classList.remove("bar-now");
    void music.lock?.release?.();
    music.lock = null;
  }
}

/** The screen stays on while it plays, where the browser can. */
async function stayAwake() {
  const lock = /** @type {any} */ (navigator).wakeLock;
  music.lock = lock ? await lock.request("screen").catch(() => null) : null;
}

let barShown = -1;
function followMusic() {
  const now = soundingNow();
  if (now && now.place >= 0) {
    const bar = barNow(now.sound.line, now.place);
    if (bar !== barShown) showBar(bar);
    barShown = bar;
  } else barShown = -1;
  requestAnimationFrame(followMusic);
}

/** Shade the bar that sounds, turning to its page. @param {number} bar */
function showBar(bar) {
  for (const old of document.querySelectorAll(".bar-now")) old.classList.remove("bar-now");
  const system = music.systems.findIndex((text) => text.includes(`id="bar-${bar}"`));
  const page = music.pages.findLastIndex((start) => start <= system);
  if (system >= 0 && page !== music.page) turnTo(page);
  document.getElementById(`bar-${bar}`)?.classList.add("bar-now");
}

musicPage();
