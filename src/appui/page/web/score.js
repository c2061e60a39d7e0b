// @ts-check
"use strict";
// The score: systems drawn when they come near the screen, with a spot to press over every sign.

const SVG = "http://www.w3.org/2000/svg";
const narrow = window.matchMedia("(max-width: 42rem)");
/** Which layout is on the page. @type {"wide" | "narrow"} */
let layout = "wide";
/** The sign that is open, or -1. */
let opened = -1;
/** @type {IntersectionObserver | null} */
let watcher = null;

/** @param {string} system @returns {Promise<string>} */
async function unpacked(system) {
  if (!pictures.packed) return system;
  const stream = new Blob([bytesOf(system)]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).text();
}

/** Put an empty frame for every system of the layout that fits the screen. */
function layOut() {
  layout = narrow.matches && !printing ? "narrow" : "wide";
  const score = byId("score");
  if (watcher) watcher.disconnect();
  const systems = pictures[layout];
  score.replaceChildren(
    ...systems.map((_, number) => make("div", { class: "system", "data-system": String(number) })),
  );
  watcher = new IntersectionObserver(
    (entries) => entries.forEach((entry) => entry.isIntersecting && void draw(entry.target)),
    { rootMargin: "1500px 0px" },
  );
  for (const frame of score.children) watcher.observe(frame);
}

/** Systems drawn or being drawn. @type {WeakMap<Element, Promise<void>>} */
const drawings = new WeakMap();

/** Draw one system, once. @param {Element} frame @returns {Promise<void>} */
function draw(frame) {
  const known = drawings.get(frame);
  if (known) return known;
  const drawing = drawNow(frame);
  drawings.set(frame, drawing);
  return drawing;
}

/** @param {Element} frame */
async function drawNow(frame) {
  const text = await unpacked(pictures[layout][Number(frame.getAttribute("data-system"))]);
  const picture = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  picture.setAttribute("role", "group");
  picture.setAttribute("aria-label", `System ${Number(frame.getAttribute("data-system")) + 1}`);
  for (const element of picture.querySelectorAll("text, desc, title")) element.setAttribute("aria-hidden", "true");
  frame.replaceChildren(document.importNode(picture, true));
  frame.classList.add("drawn");
  record.signs.forEach((_, index) => spot(frame, index));
  markBar();
}

async function drawAll() {
  await Promise.all([...byId("score").children].map(draw));
}

/** The elements of a sign in a drawn system. @param {ParentNode} frame @param {number} index @returns {SVGGraphicsElement[]} */
function drawnParts(frame, index) {
  const { small, drawn, main, word } = record.signs[index].picture;
  const names = small.length ? small : drawn.length ? drawn : [main];
  return [...names, word].flatMap((name) => {
    const found = name ? frame.querySelector(`#${CSS.escape(name)}`) : null;
    return found instanceof SVGGraphicsElement ? [found] : [];
  });
}

/** Lay a spot over a sign: it takes the pointer and the keyboard. @param {Element} frame @param {number} index */
function spot(frame, index) {
  const parts = drawnParts(frame, index);
  const root = frame.querySelector("svg.definition-scale .page-margin");
  const word = frame.querySelector(`#${CSS.escape(record.signs[index].picture.word)}`);
  // a line of a sign that goes on in the next system has no word there, and no spot
  if (!word || !(root instanceof SVGGraphicsElement)) return;
  const boxes = parts.map((part) => boxIn(part, root));
  const left = Math.min(...boxes.map((b) => b.x)) - 70;
  const top = Math.min(...boxes.map((b) => b.y)) - 60;
  const width = Math.max(...boxes.map((b) => b.x + b.width)) + 70 - left;
  const height = Math.max(...boxes.map((b) => b.y + b.height)) + 60 - top;
  const group = document.createElementNS(SVG, "g");
  const shape = document.createElementNS(SVG, "rect");
  Object.entries({ x: left, y: top, width, height, rx: 90 }).forEach(([k, v]) => shape.setAttribute(k, String(v)));
  group.append(shape);
  group.setAttribute("class", "spot");
  group.setAttribute("role", "button");
  group.setAttribute("tabindex", "0");
  group.setAttribute("data-sign", String(index));
  group.addEventListener("click", () => openSign(index));
  group.addEventListener("keydown", (event) => spotKey(event, index));
  for (const part of parts) part.classList.add("marked");
  root.append(group);
  dress(frame, index);
}

/** The box of a part in the coordinates of the system. @param {SVGGraphicsElement} part @param {SVGGraphicsElement} root */
function boxIn(part, root) {
  const box = part.getBBox();
  const mine = part.getCTM();
  const base = root.getCTM();
  if (!mine || !base) return box;
  const matrix = base.inverse().multiply(mine);
  return new DOMRect(box.x * matrix.a + matrix.e, box.y * matrix.d + matrix.f, box.width * matrix.a, box.height * matrix.d);
}

/** Give a sign its word, label and colour for the reading chosen. @param {ParentNode} frame @param {number} index */
function dress(frame, index) {
  const sign = record.signs[index];
  const reading = sign.readings[choices[index]];
  const group = frame.querySelector(`.spot[data-sign="${index}"]`);
  if (!group) return;
  const doubt = sign.doubtful ? "; doubtful: hear both" : "";
  group.setAttribute("aria-label", `${whereWords(sign)}: ${sign.printed}; ${verdictOf(index)}${doubt}`);
  group.setAttribute("aria-expanded", String(index === opened));
  group.classList.toggle("open", index === opened);
  for (const part of drawnParts(frame, index)) part.setAttribute("data-group", reading.group);
  const word = frame.querySelector(`#${CSS.escape(sign.picture.word)} text`);
  const text = reading.mark + (sign.doubtful ? "?" : "") + (isChanged(index) ? "*" : "");
  if (word) word.textContent = text;
}

/** @param {KeyboardEvent} event @param {number} index */
function spotKey(event, index) {
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    openSign(index);
    byId("panel").querySelector("button")?.focus();
  } else if (step !== undefined && record.signs[index + step]) {
    event.preventDefault();
    void showSign(index + step, true);
  }
}

/** Bring a sign into sight, drawing its system. @param {number} index @param {boolean} focus */
async function showSign(index, focus) {
  const { small, drawn, main } = record.signs[index].picture;
  const name = small[0] || drawn[0] || main;
  const frames = [...byId("score").children];
  let found = document.querySelector(`.spot[data-sign="${index}"]`);
  for (const frame of found ? [] : frames) {
    const text = await unpacked(pictures[layout][Number(frame.getAttribute("data-system"))]);
    if (!text.includes(`id="${name}"`)) continue;
    await draw(frame);
    found = frame.querySelector(`.spot[data-sign="${index}"]`);
    break;
  }
  if (!(found instanceof SVGElement)) return;
  const box = found.getBoundingClientRect();
  const panel = byId("panel");
  const covered = getComputedStyle(panel).position === "fixed" ? panel.offsetHeight : 0;
  const room = window.innerHeight - covered;
  if (box.top < 8 || box.bottom > room - 8) window.scrollBy(0, box.top - room / 3);
  if (focus) found.focus({ preventScroll: true });
}

/** Shade the bar that sounds. */
function markBar() {
  for (const old of document.querySelectorAll(".bar-now")) old.classList.remove("bar-now");
  if (!player.what || passageOf(player.what) === null) return;
  const passage = record.passages[Number(passageOf(player.what))];
  const bar = barAt(passage, placeNow() + 0.02);
  document.getElementById(`bar-${passage.barIndex + bar}`)?.classList.add("bar-now");
}

let printing = false;
