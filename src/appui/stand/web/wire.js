// @ts-check
"use strict";
// Asking the stand: JSON, changes with the page's token, sound.

/** @typedef {{lead_s: number, body_s: number, clicks: [number, number][], bars: [number, number][], qpm: number,
 *   count_s: number, count: [number, number][], early: boolean}} Line */

/** @type {any} */
const room = takeData("room-data");
const TOKEN = document.querySelector('meta[name="appui-token"]')?.getAttribute("content") || "";
/** Whether this page may change anything. */
const mayChange = TOKEN !== "";

/** The words of an answer that is none. @param {Response} answer */
async function refusal(answer) {
  const text = await answer.text();
  try {
    return JSON.parse(text).error || text;
  } catch {
    return text || `the stand answers ${answer.status}`;
  }
}

/** @param {string} path @param {RequestInit} [how] @returns {Promise<Response>} */
async function asked(path, how = {}) {
  let answer;
  try {
    answer = await fetch(path, { credentials: "same-origin", ...how });
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new Error("the stand does not answer: is it still running?");
  }
  if (!answer.ok) throw new Error(await refusal(answer));
  return answer;
}

/** @param {string} path @returns {Promise<any>} */
async function ask(path) {
  return (await asked(path)).json();
}

/** Change something. @param {string} path @param {unknown} said @returns {Promise<any>} */
async function change(path, said) {
  const body = said instanceof Blob ? said : JSON.stringify(said);
  const answer = await asked(path, { method: "POST", body, headers: { "appui-token": TOKEN } });
  return answer.json();
}

/** A query. @param {Record<string, string | number | boolean | null | undefined>} said */
function query(said) {
  const pairs = Object.entries(said).filter(([, value]) => value !== "" && value !== null && value !== undefined);
  return new URLSearchParams(pairs.map(([key, value]) => [key, String(value)])).toString();
}

/** The address of something of this piece. @param {string} what */
function ofPiece(what) {
  return `/api/pieces/${room.piece.id}/${what}`;
}

/** @param {unknown} error */
function wordsOf(error) {
  return error instanceof Error ? error.message : String(error);
}

/** Keep a small thing in this browser. @param {string} key @param {unknown} value */
function keepHere(key, value) {
  try {
    localStorage.setItem(`appui ${key}`, JSON.stringify(value));
  } catch {
    // a browser that keeps nothing is used as well
  }
}

/** @param {string} key @param {any} usual @returns {any} */
function keptHere(key, usual) {
  try {
    const text = localStorage.getItem(`appui ${key}`);
    return text === null ? usual : JSON.parse(text);
  } catch {
    return usual;
  }
}
