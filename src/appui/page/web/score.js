// @ts-check
"use strict";
// The score: an empty frame of the right size for every system, drawn when it comes near the screen, or all for paper.

const SVG = "http://www.w3.org/2000/svg";
//  a score less wide than this is engraved with fewer bars a line
const NARROW_PX = 600;
/** Which layout is on the page. @type {LayoutName} */
let layout = "wide";
/** The sign that is open, or -1. */
let opened = -1;
let printing = false;
/** @type {IntersectionObserver | null} */
let watcher = null;

/** The layout for the room there is. @returns {LayoutName} */
function layoutThatFits() {
  if (printing) return pictures.paper ? "paper" : "wide";
  return byId("score").clientWidth < NARROW_PX ? "narrow" : "wide";
}

/** The systems of the layout that is on the page. */
function systemsNow() {
  return { texts: pictures[layout] ?? [], places: pictures.places[layout] ?? [] };
}

/** Put an empty frame for every system, and keep what is open, or the bar in sight, where it can be seen. */
function layOut() {
  const bar = window.scrollY > 0 && byId("score").children.length ? barInSight() : -1;
  const held = document.activeElement?.closest(".spot") !== null && document.activeElement instanceof SVGElement;
  layout = layoutThatFits();
  if (watcher) watcher.disconnect();
  byId("score").replaceChildren(...systemsNow().places.map(frameFor));
  watcher = new IntersectionObserver(
    (entries) => entries.forEach((entry) => entry.isIntersecting && draw(entry.target)),
    { rootMargin: "1500px 0px" },
  );
  for (const frame of byId("score").children) watcher.observe(frame);
  if (printing) return;
  if (opened >= 0) showSign(opened, held);
  else if (bar >= 0) byId("score").children[systemOf(bar)].scrollIntoView({ behavior: "instant" });
}

/** @param {[number, number, number]} place @param {number} number */
function frameFor([, width, height], number) {
  return make("div", { class: "system", "data-system": String(number), style: `aspect-ratio: ${width} / ${height}` });
}

/** The first bar of the first system in sight. */
function barInSight() {
  const frames = [...byId("score").children];
  const first = frames.findIndex((frame) => frame.getBoundingClientRect().bottom > 0);
  return first < 0 ? -1 : systemsNow().places[first][0];
}

/** The number of the system a bar stands in. @param {number} bar */
function systemOf(bar) {
  return Math.max(0, systemsNow().places.findLastIndex(([first]) => first <= bar));
}

/** Draw one system, once. @param {Element} frame */
function draw(frame) {
  if (frame.classList.contains("drawn")) return;
  const number = Number(frame.getAttribute("data-system"));
  const text = systemsNow().texts[number];
  const plain = pictures.packed ? unzipped(new Uint8Array(bytesOf(text))) : text;
  const picture = new DOMParser().parseFromString(plain, "image/svg+xml").documentElement;
  picture.setAttribute("role", "group");
  picture.setAttribute("aria-label", `System ${number + 1}`);
  for (const element of picture.querySelectorAll("text, desc, title")) element.setAttribute("aria-hidden", "true");
  frame.replaceChildren(document.importNode(picture, true));
  frame.classList.add("drawn");
  laySpots(frame);
  markBar();
}

function drawAll() {
  for (const frame of byId("score").children) draw(frame);
}

/** The spot of a sign, its system drawn. @param {number} index @returns {SVGElement | null} */
function drawnSpot(index) {
  const frames = byId("score").children;
  const at = systemOf(record.signs[index].barIndex);
  // small notes may stand at the end of the line before, or at the beginning of the next one
  for (const frame of [frames[at], frames[at - 1], frames[at + 1]]) {
    if (frame) draw(frame);
    const found = frame?.querySelector(`.spot[data-sign="${index}"]`);
    if (found instanceof SVGElement) return found;
  }
  return null;
}

/** Bring a sign into sight, beside or above the panel. @param {number} index @param {boolean} focus */
function showSign(index, focus) {
  const found = drawnSpot(index);
  if (!found) return;
  const box = found.getBoundingClientRect();
  const room = window.innerHeight - coveredBelow();
  const top = box.top + window.scrollY;
  if (box.top < 8 || box.bottom > room - 8) window.scrollTo({ top: top - Math.max(8, (room - box.height) / 3), behavior: "instant" });
  if (focus) found.focus({ preventScroll: true });
}

/** How much of the window's lower part the panel takes. */
function coveredBelow() {
  const box = byId("panel").getBoundingClientRect();
  return box.top > 1 ? box.height : 0;
}

/** Shade the bar that sounds. */
function markBar() {
  for (const old of document.querySelectorAll(".bar-now")) old.classList.remove("bar-now");
  if (!player.what || passageOf(player.what) === null) return;
  const passage = record.passages[Number(passageOf(player.what))];
  const bar = barAt(passage, placeNow() + 0.02);
  document.getElementById(`bar-${passage.barIndex + bar}`)?.classList.add("bar-now");
}
