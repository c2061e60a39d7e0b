// @ts-check
"use strict";
// Ear training in a browser: the same staircase, the same balance of answers and the same rows as at the terminal.
// Every level is there as sound; which music and which order comes next is chance, kept as it is answered.

const record = JSON.parse(document.getElementById("record").textContent);
/** @param {string} id @returns {any} */
const byId = (id) => document.getElementById(id);
const STORE = `appui drill ${record.kind}`;
const GAP_S = 0.8;

// the staircase

/** @param {number} lowest @param {number} down */
function newStairs(lowest, down) {
  return { lowest, down, rung: 0, turns: [], missed: false, right: 0, way: 0 };
}

/** Take an answer and move. @param {any} stairs @param {boolean} right */
function answerStairs(stairs, right) {
  if (!right) {
    stairs.missed = true;
    stairs.right = 0;
    moveStairs(stairs, -1);
    return;
  }
  stairs.right += 1;
  if (stairs.right >= (stairs.missed ? stairs.down : 1)) {
    stairs.right = 0;
    moveStairs(stairs, 1);
  }
}

/** @param {any} stairs @param {number} way */
function moveStairs(stairs, way) {
  if (stairs.way && way !== stairs.way) stairs.turns.push(stairs.rung);
  stairs.way = way;
  const step = record.steps[Math.min(stairs.turns.length, record.steps.length - 1)];
  stairs.rung = Math.min(Math.max(stairs.rung + way * step, 0), stairs.lowest);
}

/** @param {any} stairs @returns {number[]} */
const counted = (stairs) => stairs.turns.slice(record.steps.length - 1);

/** The level it has settled at, or null. @param {any} stairs */
function settled(stairs) {
  const all = counted(stairs);
  const even = all.slice(all.length % 2);
  if (even.length < 4) return null;
  const mean = even.reduce((sum, rung) => sum + rung, 0) / even.length;
  return record.start * 2 ** (-mean / record.a_halving);
}

// chance

/** @param {number} below @returns {number} */
function chance(below) {
  return Math.floor((crypto.getRandomValues(new Uint32Array(1))[0] / 2 ** 32) * below);
}

/** @template T @param {T[]} things @returns {T[]} */
function shuffled(things) {
  for (let i = things.length - 1; i > 0; i -= 1) {
    const other = chance(i + 1);
    [things[i], things[other]] = [things[other], things[i]];
  }
  return things;
}

/** Right answers, balanced in every six, -1 for equal intervals once in ten. @param {number} count */
function answersOf(count) {
  const kinds = record.answers.length;
  const all = [];
  while (all.length < count + 10) {
    all.push(...shuffled(Array.from({ length: 6 }, (_, i) => i % kinds)));
  }
  if (record.intervals === 2) {
    for (let at = 0; at < count; at += record.catch_among) all.splice(at + 1 + chance(record.catch_among - 1), 0, -1);
  }
  return all.slice(0, count);
}

// results kept in the browser

let cannotKeep = false;
/** Rows of this page's visit, where the browser keeps nothing. @type {any[]} */
let inMemory = [];

/** @returns {any[]} */
function keptRows() {
  if (cannotKeep) return inMemory;
  try {
    const rows = JSON.parse(localStorage.getItem(STORE) || "[]");
    return Array.isArray(rows) ? rows : [];
  } catch {
    return inMemory;
  }
}

/** @param {any} row */
function keep(row) {
  inMemory.push(row);
  try {
    if (!cannotKeep) localStorage.setItem(STORE, JSON.stringify([...keptRows(), row]));
  } catch {
    cannotKeep = true;
  }
  sayCount();
}

function sayCount() {
  const rows = keptRows();
  byId("count").textContent =
    `${rows.length} ${rows.length === 1 ? "answer" : "answers"} kept in this browser.` +
    (cannotKeep ? " The browser refuses to keep more: save before you close the page." : "");
  byId("save").disabled = byId("forget").disabled = !rows.length;
}

function saveResults() {
  const text = JSON.stringify({ format: record.format, version: record.version, trials: keptRows() }, null, 1);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  link.download = `appui-drill-${record.kind}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

// sound

/** @type {AudioContext | null} */
let context = null;
/** @type {AudioBufferSourceNode[]} */
let sounding = [];
/** @type {number[]} */
let timers = [];

/** @param {number} number @returns {Promise<AudioBuffer>} */
async function clip(number) {
  const raw = atob(byId(`sound-${number}`).textContent);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
  context = context || new AudioContext();
  return context.decodeAudioData(bytes.buffer);
}

function hush() {
  for (const source of sounding) {
    source.onended = null;
    try { source.stop(); } catch { /* it never began */ }
  }
  timers.forEach(clearTimeout);
  sounding = [];
  timers = [];
  light(-1);
}

/** @param {number} lamp */
function light(lamp) {
  [...byId("lamps").children].forEach((each, number) => each.classList.toggle("lit", number === lamp));
}

let turn = 0;
/** Play clips one after another. @param {number[]} clips @param {number} first the lamp of the first */
async function play(clips, first = 0) {
  hush();
  turn += 1;
  const mine = turn;
  const buffers = await Promise.all(clips.map(clip));
  if (mine !== turn || !context) return;
  if (context.state === "suspended") await context.resume();
  let at = context.currentTime + 0.05;
  buffers.forEach((buffer, number) => {
    const source = context.createBufferSource();
    source.buffer = buffer;
    source.connect(context.destination);
    source.start(at);
    sounding.push(source);
    timers.push(window.setTimeout(() => light(first + number), (at - context.currentTime) * 1000));
    at += buffer.duration + GAP_S;
  });
  timers.push(window.setTimeout(() => light(-1), (at - GAP_S - context.currentTime) * 1000));
}

// a sitting

/** @type {any} */
let sitting = null;
/** @type {Map<number, number[]>} */
const waiting = new Map();

/** An item of a rung, each in turn. @param {number} rung */
function itemAt(rung) {
  const there = record.items.map((_, i) => i).filter((i) => record.items[i].rung === rung);
  let left = waiting.get(rung) || [];
  if (!left.length) left = shuffled(there);
  const taken = left.pop();
  waiting.set(rung, left);
  return taken;
}

function begin() {
  const name = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  sitting = {
    name,
    player: byId("player").value.trim() || "me",
    stairs: newStairs(record.levels.length - 1, record.down),
    answers: answersOf(record.trials),
    rows: [],
    trial: null,
  };
  context = context || new AudioContext();
  show("trial");
  nextTrial();
}

/** @param {string} which */
function show(which) {
  for (const id of ["start", "trial", "end"]) byId(id).hidden = id !== which;
  byId("kept").hidden = which === "trial";
}

function nextTrial() {
  const { stairs, rows, answers } = sitting;
  if (rows.length >= record.trials || counted(stairs).length >= record.reversals) {
    finish();
    return;
  }
  const number = itemAt(stairs.rung);
  const item = record.items[number];
  const answer = answers[rows.length];
  sitting.trial = { item, number, answer, clips: clipsOf(item, answer), given: null };
  byId("where").textContent = `Trial ${rows.length + 1}, ${record.words[stairs.rung]} ${record.of}`;
  byId("why").textContent = "";
  for (const button of byId("answers").children) {
    button.disabled = false;
    button.className = "";
  }
  byId("next").disabled = true;
  play(sitting.trial.clips);
}

/** @param {any} item @param {number} answer @returns {number[]} */
function clipsOf(item, answer) {
  if (record.intervals === 1) return [item.clips[answer]];
  const [more, less] = item.clips;
  if (answer < 0) return [less, less];
  return answer === 0 ? [more, less] : [less, more];
}

/** @param {number} given */
function take(given) {
  const trial = sitting && sitting.trial;
  if (!trial || trial.given !== null || byId("trial").hidden) return;
  trial.given = given;
  const right = given === trial.answer;
  const row = {
    player: sitting.player, sitting: sitting.name, number: sitting.rows.length,
    moment: new Date().toISOString(), kind: record.kind, level: record.levels[sitting.stairs.rung], unit: record.unit,
    answer: trial.answer, given, down: record.down, origin: trial.item.origin, seed: `${record.seed} ${trial.number}`,
  };
  sitting.rows.push(row);
  keep(row);
  if (trial.answer >= 0) answerStairs(sitting.stairs, right);
  const buttons = byId("answers").children;
  for (const button of buttons) button.disabled = true;
  if (trial.answer >= 0) buttons[trial.answer].className = "right";
  if (trial.answer >= 0 && !right) buttons[given].className = "wrong";
  const verdict = trial.answer < 0 ? "" : right ? "Right. " : "No. ";
  byId("why").textContent = verdict + (trial.answer < 0 ? record.equal : trial.item.why[trial.answer]);
  byId("next").disabled = false;
  byId("next").focus();
  if (!right && trial.answer >= 0) {
    const lamp = record.intervals === 2 ? trial.answer : 0;
    play([trial.clips[lamp]], lamp);
  } else hush();
}

function finish() {
  hush();
  turn += 1;
  const asked = sitting.rows.filter((row) => row.answer >= 0);
  const right = asked.filter((row) => row.given === row.answer).length;
  const level = settled(sitting.stairs);
  const lines = [`${right} of ${asked.length} right.`];
  const last = lastTime();
  if (level !== null) lines.push(`You settled at ${said(level)} ${record.of}.`);
  else lines.push("Too few trials to tell where you settle: go on a little longer next time.");
  if (level !== null && last !== null) lines.push(`Last time: ${said(last)}.`);
  byId("result").textContent = lines.join(" ");
  sitting.trial = null;
  show("end");
  byId("more").focus();
}

/** Where the sitting before settled. */
function lastTime() {
  const before = keptRows().filter((row) => row.sitting !== sitting.name && row.player === sitting.player);
  const names = [...new Set(before.map((row) => row.sitting))].reverse();
  for (const name of names) {
    const stairs = newStairs(record.levels.length - 1, record.down);
    for (const row of before) if (row.sitting === name && row.answer >= 0) answerStairs(stairs, row.given === row.answer);
    const level = settled(stairs);
    if (level !== null) return level;
  }
  return null;
}

/** @param {number} level */
function said(level) {
  const figures = level >= 10 ? 0 : record.unit === "ms" || level >= 0.95 ? 1 : 2;
  return `${level.toFixed(figures)} ${record.unit}`;
}

function again() {
  const trial = sitting && sitting.trial;
  if (trial) play(trial.clips);
}

// controls

record.answers.forEach((words, number) => {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = words;
  const key = document.createElement("kbd");
  key.textContent = String(number + 1);
  button.prepend(key, " ");
  button.onclick = () => take(number);
  byId("answers").append(button);
});
for (let lamp = 0; lamp < record.intervals; lamp += 1) {
  const span = document.createElement("span");
  span.textContent = record.intervals === 1 ? "listen" : ["first", "second"][lamp];
  byId("lamps").append(span);
}
byId("about").textContent = record.about;
byId("begin").onclick = begin;
byId("more").onclick = begin;
byId("again").onclick = again;
byId("next").onclick = () => nextTrial();
byId("stop").onclick = finish;
byId("save").onclick = saveResults;
byId("forget").onclick = () => {
  if (window.confirm("Forget all results kept in this browser?")) {
    try { localStorage.removeItem(STORE); } catch { /* nothing was kept */ }
    inMemory = [];
    sayCount();
  }
};
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target === byId("player")) return;
  if (byId("trial").hidden) return;
  const number = Number(event.key) - 1;
  if (number >= 0 && number < record.answers.length) take(number);
  else if (event.key === "r") again();
  else if (event.key === "q") finish();
  else if ((event.key === "n" || event.key === "Enter") && sitting.trial && sitting.trial.given !== null) nextTrial();
  else return;
  event.preventDefault();
});
sayCount();
