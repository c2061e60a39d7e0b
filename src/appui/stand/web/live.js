// @ts-check
"use strict";
// The page's player, with sound that the stand makes when it is asked for: any tempo, and loops in exact time.

/** @typedef {{sign: number, reading: number, whole: boolean}} What */

const player = {
  /** @type {What | null} */ what: null,
  tempo: 0,
  /** the speed wanted, as a share of the written tempo */ speed: 1,
  loop: false,
  parts: { accompaniment: true, solo: true },
  turn: 0,
  /** @type {(() => void)[]} */ listeners: [],
};
/** how everything is to sound, beside the tempo */
const sounds = keptHere("sounds", { pitch: "440", tuning: "equal", program: "", transpose: "" });

function tellPlayer() {
  for (const listener of player.listeners) listener();
}

/** @param {What} what */
function addressOf(what) {
  const sign = record.signs[what.sign];
  const said = { place: sign.place, words: sign.readings[what.reading].words, tempo: `${Math.round(player.speed * 1000) / 10}%` };
  return `${ofPiece("ornament.wav")}?${query({ ...said, ...sounds, v: room.piece.version })}`;
}

/** Play something; if something sounds already, go over to it at the same place.
 * @param {What} what @param {boolean} [restart] */
async function playSound(what, restart = false) {
  openEngine();
  const turn = (player.turn += 1);
  const patience = setTimeout(() => saySound("Preparing the sound …"), 300);
  const sound = await soundAt(addressOf(what)).finally(() => clearTimeout(patience));
  saySound("");
  if (turn !== player.turn) return;
  const now = soundingNow();
  const keeps = player.what !== null && player.what.sign === what.sign && !restart && now !== null;
  const from = keeps && now ? samePlace(now.sound.line, sound.line, now.place + 0.03) : 0;
  setParts();
  playRounds([sound], { rounds: player.loop ? 100000 : 1, from, over: keeps });
  player.what = what;
  tellPlayer();
  fetchOthers(what.sign);
}

/** @type {number | undefined} */
let fetchTimer;

/** All ways of playing an ornament, fetched before they are asked for. @param {number} index */
function fetchOthers(index) {
  clearTimeout(fetchTimer);
  const turn = player.turn;
  fetchTimer = window.setTimeout(async () => {
    for (const [number, reading] of record.signs[index].readings.entries()) {
      if (turn !== player.turn || opened !== index) return;
      if (reading.heard) await soundAt(addressOf({ sign: index, reading: number, whole: false })).catch(() => null);
    }
  }, 60);
}

function stopSound() {
  player.turn += 1;
  player.what = null;
  stopRounds();
  tellPlayer();
}
engine.ended = () => {
  player.what = null;
  tellPlayer();
};

/** Play at another speed. @param {number} speed */
function setSpeed(speed) {
  player.speed = speed;
  record.tempos[0].factor = speed;
  if (player.what) {
    const what = player.what;
    clearTimeout(speedTimer);
    speedTimer = window.setTimeout(() => void playSound(what).catch(soundFails), 120);
  }
}
/** @type {number | undefined} */
let speedTimer;

/** @param {boolean} loop */
function setLoop(loop) {
  player.loop = loop;
  engine.rounds = loop ? 100000 : engine.round + 1;
}

function setParts() {
  setLevel("others", player.parts.accompaniment ? 1 : 0);
  setLevel("solo", player.parts.solo ? 1 : 0);
}

function sounding() {
  return player.what !== null;
}

/** How far the sound is, in the seconds of its own. */
function placeNow() {
  return soundingNow()?.place || 0;
}

/** What the page shows of how far it is. */
function activeAudio() {
  const now = soundingNow();
  return { currentTime: now ? Math.max(now.place, 0) : 0, duration: now ? now.sound.line.lead_s + now.sound.line.body_s : 0 };
}

/** The passage of a way of playing. @param {What} what */
function passageOf(what) {
  return record.signs[what.sign].readings[what.reading].passage;
}

/** Which bar of a passage sounds, counted from its first. @param {Passage} passage @param {number} place */
function barAt(passage, place) {
  const now = soundingNow();
  return now ? barNow(now.sound.line, place) - passage.barIndex : 0;
}

/** The data of a packed picture; here none is packed. @param {string} text @returns {ArrayBuffer} */
function bytesOf(text) {
  throw new Error(`a packed picture: ${text.length}`);
}

/** @param {unknown} error */
function soundFails(error) {
  stopSound();
  saySound(`No sound: ${wordsOf(error)}`);
}

/** @param {string} words */
function saySound(words) {
  const place = document.querySelector(".sound-said");
  if (place) place.textContent = words;
}
