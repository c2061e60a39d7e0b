// @ts-check
"use strict";
// The player, whatever its sound comes from: one voice sounds, another one takes over at the same place. A loop is as long as its music, to the sample:
// what rings after the last bar sounds into the first one, small notes before the first beat come at the end of the last.

const HANDOVER_S = 0.04;
//  from a press to the sound: long enough for both voices to be told in time
const AHEAD_S = 0.02;
const SETTLE_MS = 120;

/** @typedef {{sign: number, reading: number, whole: boolean}} What */
/** Accompaniment and solo, and of how many samples: what comes before the first beat, the music, what rings after it;
 * `early` where small notes are before the beat.
 * @typedef {{sides: Float32Array[], lead: number, length: number, ring: number, early: boolean}} Cut */

/** What sounds: its source, the moment it began, and which second of its sound that was. `speed` is the share of the
 * written tempo. @typedef {{source: AudioBufferSourceNode, gain: GainNode, parts: GainNode[], began: number, at: number,
 *   what: What, speed: number, lead_s: number, length_s: number, loop: boolean}} Voice */

/** The player's state, and how things are played. */
const player = {
  /** @type {AudioContext | null} */ context: null,
  /** @type {Voice | null} */ voice: null,
  /** @type {What | null} */ what: null,
  /** what was on last @type {What | null} */ last: null,
  /** the speed wanted, as a share of the written tempo */ speed: 1,
  loop: false,
  parts: { accompaniment: true, solo: true },
  turn: 0,
  settling: 0,
  /** @type {(() => void)[]} */ listeners: [],
};

function tellPlayer() {
  for (const listener of player.listeners) listener();
}

function openContext() {
  if (player.context) return player.context;
  const session = /** @type {any} */ (navigator).audioSession;
  // a telephone that is set to be silent is so for calls, not for music that is asked for
  if (session) session.type = "playback";
  player.context = new AudioContext();
  return player.context;
}

/** Add a sound to another one, from a place on. @param {Float32Array} sound @param {number} at @param {Float32Array} more */
function addTo(sound, at, more) {
  for (let i = Math.max(0, -at); i < more.length && at + i < sound.length; i += 1) sound[at + i] += more[i];
}

/** What is cut out, then the same again as it sounds in every later round. @param {Cut} cut @returns {Float32Array[]} */
function inRounds({ sides, lead, length, early }) {
  return sides.map((side, number) => {
    const out = new Float32Array(lead + 2 * length);
    // the solo's small notes come before the first beat of every round; what else sounds there is the bar before
    const before = early && number === 1 ? lead : 0;
    addTo(out, 0, side);
    addTo(out, lead + length - before, side.subarray(lead - before, lead + length));
    addTo(out, lead + 2 * length - before, side.subarray(lead - before, lead));
    return out;
  });
}

/** Where in the passage a voice is at a moment of the context, in seconds at the written tempo.
 * @param {Voice} voice @param {number} moment */
function placeAt(voice, moment) {
  let second = voice.at + Math.max(0, moment - voice.began) - voice.lead_s;
  if (voice.loop && second >= voice.length_s) second %= voice.length_s;
  return spanOf(voice.what).from_s + second * voice.speed;
}

/** How far the sound is, in seconds of the passage at the written tempo. */
function placeNow() {
  return player.voice && player.context ? placeAt(player.voice, player.context.currentTime) : 0;
}

/** How much of what sounds has been heard, 0 to 1. */
function shareNow() {
  if (!player.voice) return 0;
  const { from_s, to_s } = spanOf(player.voice.what);
  return Math.min(1, Math.max(0, (placeNow() - from_s) / (to_s - from_s)));
}

/** Play something; if something sounds already, go over to it at the same place.
 * @param {What} what @param {boolean} [restart] */
async function playSound(what, restart = false) {
  const context = openContext();
  const turn = (player.turn += 1);
  if (context.state === "suspended") void context.resume();
  const [speed, loop] = [player.speed, player.loop];
  const patience = setTimeout(() => saySound("Preparing the sound …"), 300);
  const cut = await soundAt(what, loop).finally(() => clearTimeout(patience));
  saySound("");
  if (turn !== player.turn) return;
  const before = restart ? null : player.voice;
  const began = context.currentTime + AHEAD_S;
  const keeps = before && record.signs[before.what.sign].passage === record.signs[what.sign].passage;
  const place = keeps ? carried(placeAt(before, began), passageOf(before.what), passageOf(what)) : -1;
  const voice = newVoice(context, cut, what, speed, loop);
  const { from_s, to_s } = spanOf(what);
  voice.began = began;
  voice.at = place >= from_s && place < to_s - 0.05 ? voice.lead_s + (place - from_s) / speed : 0;
  voice.source.start(began, voice.at);
  takeOver(voice, before ?? player.voice);
  player.what = player.last = what;
  tellPlayer();
}

/** @param {AudioContext} context @param {Cut} cut @param {What} what @param {number} speed @param {boolean} loop
 * @returns {Voice} */
function newVoice(context, cut, what, speed, loop) {
  const { rate } = record.sound;
  const sides = loop ? inRounds(cut) : cut.sides;
  const buffer = context.createBuffer(2, sides[0].length, rate);
  sides.forEach((side, number) => buffer.copyToChannel(/** @type {Float32Array<ArrayBuffer>} */ (side), number));
  const source = context.createBufferSource();
  source.buffer = buffer;
  source.loop = loop;
  source.loopStart = (cut.lead + cut.length) / rate;
  source.loopEnd = (cut.lead + 2 * cut.length) / rate;
  const gain = context.createGain();
  gain.gain.value = 0;
  const split = context.createChannelSplitter(2);
  source.connect(split);
  const parts = [0, 1].map((side) => {
    const part = context.createGain();
    split.connect(part, side);
    part.connect(gain);
    return part;
  });
  gain.connect(context.destination);
  const voice = { source, gain, parts, began: 0, at: 0, what, speed, lead_s: cut.lead / rate, length_s: cut.length / rate, loop };
  source.onended = () => voice === player.voice && stopSound();
  setParts(voice);
  return voice;
}

/** Fade one voice in, and the other out. @param {Voice} voice @param {Voice | null} before */
function takeOver(voice, before) {
  player.voice = voice;
  voice.gain.gain.setValueAtTime(0, voice.began);
  voice.gain.gain.linearRampToValueAtTime(1, voice.began + (before ? HANDOVER_S : 0.002));
  if (before) fadeOut(before, voice.began);
}

/** @param {Voice} voice @param {number} moment */
function fadeOut(voice, moment) {
  voice.source.onended = () => voice.gain.disconnect();
  voice.gain.gain.cancelScheduledValues(moment);
  voice.gain.gain.setValueAtTime(1, moment);
  voice.gain.gain.linearRampToValueAtTime(0, moment + HANDOVER_S);
  voice.source.stop(moment + HANDOVER_S + 0.01);
}

/** @param {Voice | null} [voice] */
function setParts(voice = player.voice) {
  if (!voice) return;
  voice.parts[0].gain.value = player.parts.accompaniment ? 1 : 0;
  voice.parts[1].gain.value = player.parts.solo ? 1 : 0;
}

function stopSound() {
  player.turn += 1;
  player.what = null;
  clearTimeout(player.settling);
  if (player.voice && player.context) fadeOut(player.voice, player.context.currentTime);
  player.voice = null;
  tellPlayer();
}

/** Go on with what sounds, played otherwise. */
function playOn() {
  if (player.what) void playSound({ ...player.what, whole: whole() }).catch(soundFails);
}

/** Play at another speed, as soon as it stands still. @param {number} speed */
function setSpeed(speed) {
  player.speed = speed;
  clearTimeout(player.settling);
  player.settling = window.setTimeout(playOn, SETTLE_MS);
}

/** @param {boolean} loop */
function setLoop(loop) {
  player.loop = loop;
  playOn();
}

/** @param {unknown} error */
function soundFails(error) {
  stopSound();
  saySound(`No sound: ${error instanceof Error ? error.message : String(error)}.`);
}

/** @param {string} words */
function saySound(words) {
  const place = document.querySelector(".sound-said");
  if (place) place.textContent = words;
}
