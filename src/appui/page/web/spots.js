// @ts-check
"use strict";
// The spots to press over the signs. Where words and notes stand close, the nearest to the finger is meant.

//  how far beside a word or note a finger may be, in the engraver's units: a staff is 720 high
const NEAR = 200;
//  by so much a word or note goes before a line that passes it
const LINE_BEHIND = 30;

/** What can be hit of each sign of a system, in its coordinates: word and notes, and the line between them.
 * @typedef {{index: number, boxes: DOMRect[], line: DOMRect | null}} Target
 * @type {WeakMap<Element, Target[]>} */
const targets = new WeakMap();

/** The elements of a sign in a drawn system, its word last. @param {ParentNode} frame @param {number} index
 * @returns {SVGGraphicsElement[]} */
function drawnParts(frame, index) {
  const { small, drawn, main, word } = record.signs[index].picture;
  const names = small.length ? small : drawn.length ? drawn : [main];
  return [...names, word].flatMap((name) => {
    const found = name ? frame.querySelector(`#${CSS.escape(name)}`) : null;
    return found instanceof SVGGraphicsElement ? [found] : [];
  });
}

/** @param {Element} frame @returns {SVGGraphicsElement | null} */
function rootOf(frame) {
  const root = frame.querySelector("svg.definition-scale .page-margin");
  return root instanceof SVGGraphicsElement ? root : null;
}

/** Lay the spots of a system that has just been drawn. @param {Element} frame */
function laySpots(frame) {
  const root = rootOf(frame);
  if (!root) return;
  /** @type {Target[]} */
  const hit = [];
  for (const word of frame.querySelectorAll(".word")) {
    const index = record.signs.findIndex((sign) => sign.picture.word === word.id);
    const line = word.querySelector(".leader");
    if (index >= 0) hit.push({ index, boxes: laySpot(frame, root, index), line: line && boxIn(line, root) });
  }
  hit.sort((one, other) => one.index - other.index);
  // the keyboard goes through them in the order of the music
  for (const { index } of hit) root.append(/** @type {Element} */ (root.querySelector(`.spot[data-sign="${index}"]`)));
  targets.set(frame, hit);
  for (const { index } of hit) dress(frame, index);
}

/** Lay a spot over a sign: it takes the keyboard, and shows what is open.
 * @param {Element} frame @param {SVGGraphicsElement} root @param {number} index @returns {DOMRect[]} */
function laySpot(frame, root, index) {
  const parts = drawnParts(frame, index);
  const boxes = parts.map((part) => boxIn(part.querySelector(":scope > text") ?? part, root));
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
  for (const part of parts) part.classList.add("marked");
  root.append(group);
  return boxes;
}

/** The box of a part in the coordinates of the system. @param {Element} part @param {SVGGraphicsElement} root */
function boxIn(part, root) {
  if (!(part instanceof SVGGraphicsElement)) return new DOMRect();
  const box = part.getBBox();
  const mine = part.getCTM();
  const base = root.getCTM();
  if (!mine || !base) return box;
  const matrix = base.inverse().multiply(mine);
  return new DOMRect(box.x * matrix.a + matrix.e, box.y * matrix.d + matrix.f, box.width * matrix.a, box.height * matrix.d);
}

/** How far a point is from a box; inside it, a little less the nearer to its middle. @param {DOMRect} box
 * @param {DOMPoint} point */
function away(box, point) {
  const x = Math.max(box.left - point.x, 0, point.x - box.right);
  const y = Math.max(box.top - point.y, 0, point.y - box.bottom);
  const middle = Math.hypot(box.x + box.width / 2 - point.x, box.y + box.height / 2 - point.y);
  return Math.hypot(x, y) + middle / 1000;
}

/** The sign that is meant by a press at a place of the window, or -1. @param {Element} frame @param {number} x
 * @param {number} y */
function signAt(frame, x, y) {
  const matrix = rootOf(frame)?.getScreenCTM();
  if (!matrix) return -1;
  const point = new DOMPoint(x, y).matrixTransform(matrix.inverse());
  const far = (targets.get(frame) ?? []).map(({ index, boxes, line }) => ({
    index,
    far: Math.min(...boxes.map((box) => away(box, point)), line ? away(line, point) + LINE_BEHIND : NEAR),
  }));
  far.sort((one, other) => one.far - other.far);
  return far.length && far[0].far < NEAR ? far[0].index : -1;
}

/** @param {MouseEvent} event */
function pressScore(event) {
  const target = event.target instanceof Element ? event.target : null;
  const frame = target?.closest("#score > .system");
  if (!target || !frame) return;
  const spot = target.closest(".spot");
  const own = spot ? Number(spot.getAttribute("data-sign")) : -1;
  // a press that comes from no pointer has no place
  const index = event.detail === 0 ? own : signAt(frame, event.clientX, event.clientY);
  if (index >= 0) openSign(index);
  else if (own >= 0) openSign(own);
}

/** Give a sign its word, label and colour for the reading chosen. @param {ParentNode} frame @param {number} index */
function dress(frame, index) {
  const sign = record.signs[index];
  const reading = sign.readings[choices[index]];
  const group = frame.querySelector(`.spot[data-sign="${index}"]`);
  if (!group) return;
  // who listens blind is not told in the score either
  const hidden = blind.sign === index || isHidden(index);
  const doubt = sign.doubtful ? "; doubtful: hear both" : "";
  const told = isHidden(index) ? verdictOf(index) : hidden ? "listening blind" : `${verdictOf(index)}${doubt}`;
  group.setAttribute("aria-label", `${whereWords(sign)}: ${sign.printed}; ${told}`);
  group.setAttribute("aria-expanded", String(index === opened));
  group.classList.toggle("open", index === opened);
  for (const part of drawnParts(frame, index)) part.setAttribute("data-group", hidden ? "" : reading.group);
  const word = frame.querySelector(`#${CSS.escape(sign.picture.word)} text`);
  const text = reading.mark + (sign.doubtful ? "?" : "") + (isChanged(index) ? "*" : "");
  if (word) word.textContent = isHidden(index) ? "?" : hidden ? "A or B" : text;
}

/** @param {KeyboardEvent} event */
function keyOnScore(event) {
  const spot = event.target instanceof Element ? event.target.closest(".spot") : null;
  if (!spot) return;
  const index = Number(spot.getAttribute("data-sign"));
  const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    openSign(index);
    focusIn("listen", "next");
  } else if (step !== undefined && record.signs[index + step]) {
    event.preventDefault();
    showSign(index + step, true);
  }
}
