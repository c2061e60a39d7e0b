// @ts-check
"use strict";
// The way from room to room, the same at the top of each.

/** @type {[string, string][]} */
const ROOMS = [
  ["read", "Read"],
  ["stand", "On the music stand"],
  ["practise", "Practise"],
  ["embellish", "Embellish"],
  ["ear", "Ear"],
  ["lesson", "Teacher and pupil"],
];

function showWay() {
  const here = document.body.dataset.room || "";
  const piece = room.piece;
  const links = [make("a", { href: "/", "aria-current": here === "shelf" ? "page" : null }, "Shelf")];
  if (piece)
    for (const [name, words] of ROOMS)
      links.push(make("a", { href: `/piece/${piece.id}/${name}`, "aria-current": here === name ? "page" : null }, words));
  byId("top").replaceChildren(make("nav", { "aria-label": "Rooms" }, ...links));
}

/** Say something where everybody sees it. @param {HTMLElement} place @param {string} words */
function tellAt(place, words) {
  place.textContent = words;
  say(words);
}

/** A choice among few. @param {string} label @param {[string, string][]} options @param {string} value
 * @param {(value: string) => void} act */
function picker(label, options, value, act) {
  const select = /** @type {HTMLSelectElement} */ (make("select", {}));
  for (const [name, words] of options) {
    const option = /** @type {HTMLOptionElement} */ (make("option", { value: name }, words));
    option.selected = name === value;
    select.append(option);
  }
  select.addEventListener("change", () => act(select.value));
  return make("label", { class: "field" }, make("span", {}, label), select);
}

/** A field to type in. @param {string} label @param {string} value @param {(value: string) => void} act
 * @param {Record<string, string>} [more] */
function field(label, value, act, more = {}) {
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "text", value, ...more }));
  input.addEventListener("change", () => act(input.value.trim()));
  return make("label", { class: "field" }, make("span", {}, label), input);
}

/** @param {string} label @param {boolean} on @param {(on: boolean) => void} act */
function tick(label, on, act) {
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "checkbox", checked: on }));
  input.addEventListener("change", () => act(input.checked));
  return make("label", { class: "tick" }, input, label);
}

/** Put a drawn picture into an element: parsed as a picture, never as a page. @param {string} text */
function pictureOf(text) {
  return document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
}

/** Shapes that pictures share, put into the page once. @param {[string, string][]} shapes */
function addShapes(shapes) {
  let home = document.getElementById("shapes");
  if (!home) {
    const holder = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    holder.setAttribute("class", "shapes");
    holder.setAttribute("aria-hidden", "true");
    home = /** @type {any} */ (document.createElementNS("http://www.w3.org/2000/svg", "defs"));
    /** @type {Element} */ (home).id = "shapes";
    holder.append(/** @type {any} */ (home));
    document.body.prepend(holder);
  }
  for (const [name, shape] of shapes) {
    if (document.getElementById(name)) continue;
    const parsed = new DOMParser().parseFromString(
      `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">${shape}</svg>`,
      "image/svg+xml",
    ).documentElement;
    for (const child of [...parsed.children]) /** @type {any} */ (home).append(document.importNode(child, true));
  }
}

/** The font of signs that stand in text. @param {string} font */
function addFont(font) {
  if (!font || document.getElementById("signs-font")) return;
  document.head.append(
    make("style", { id: "signs-font" }, `@font-face{font-family:Leipzig;src:url(${font}) format('woff2')}`),
  );
}

showWay();
