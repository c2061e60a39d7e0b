// @ts-check
"use strict";
// Small things every other file uses: finding and making elements, saying something.

/** @param {string} id @returns {HTMLElement} */
function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no ${id}`);
  return found;
}

/** The data of a script element, which is then emptied. @param {string} id @returns {any} */
function takeData(id) {
  const element = byId(id);
  const value = JSON.parse(element.textContent || "null");
  element.remove();
  return value;
}

/** Make an element. Text is always text, never markup.
 * @param {string} tag @param {Record<string, string | boolean | null>} [attributes] @param {...(Node | string)} children
 * @returns {HTMLElement} */
function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null) element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

/** A button. @param {string} words @param {() => void} act @param {Record<string, string | boolean | null>} [attributes] */
function button(words, act, attributes = {}) {
  const element = make("button", { type: "button", ...attributes }, words);
  element.addEventListener("click", act);
  return element;
}

/** Say something to a screen reader. @param {string} words */
function say(words) {
  byId("said").textContent = words;
}
