// @ts-check
"use strict";
// Sound: sheets decoded once, an excerpt cut together from them, two players that hand over to one another.
//
// An excerpt is a stereo sound with the accompaniment on the left and the solo on the right, so both keep together at
// any speed; they are split again and mixed to the middle. The browser's own player stretches it without changing its
// pitch. Another reading is another such sound: it starts at the same place and is faded in.

const FADE_S = 0.012;
const HANDOVER_S = 0.04;

/** @typedef {{sign: number, reading: number, whole: boolean}} What */
/** @typedef {{element: HTMLAudioElement, gain: GainNode | null, parts: GainNode[], url: string}} Deck */

/** Decoded sheets by key, a few at a time. @type {Map<number, Float32Array>} */
const decoded = new Map();
/** Sounds of the folder beside the page, by key. @type {Map<number, (text: string) => void>} */
const awaited = new Map();

/** Called by each script of the folder. @param {number} key @param {string} text */
function appuiSound(key, text) {
  const deliver = awaited.get(key);
  awaited.delete(key);
  if (deliver) deliver(text);
}
Object.assign(window, { appuiSound });

/** @param {number} key @returns {Promise<string>} */
function sheetText(key) {
  if (!record.folder) return Promise.resolve(byId(`sound-${key}`).textContent || "");
  return new Promise((resolve, reject) => {
    awaited.set(key, resolve);
    const script = document.createElement("script");
    script.src = `${encodeURIComponent(record.folder)}/${key}.js`;
    script.onload = () => script.remove();
    script.onerror = () => reject(new Error(`the folder ${record.folder} is not beside this page`));
    document.body.append(script);
  });
}

/** @param {string} text @returns {ArrayBuffer} */
function bytesOf(text) {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
  return bytes.buffer;
}

/** A decoded sheet from the moment its music starts. @param {Sheet} sheet @returns {Promise<Float32Array>} */
async function sheetSound(sheet) {
  const known = decoded.get(sheet.key);
  if (known) return known;
  const { rate, head_s, tick_s } = record.sound;
  const context = new OfflineAudioContext(1, 1, rate);
  const buffer = await context.decodeAudioData(bytesOf(await sheetText(sheet.key)));
  const samples = buffer.getChannelData(0);
  // the tick tells how much of the coder's delay this browser has left in
  const end = Math.round((head_s - 0.03) * rate);
  let tick = 0;
  for (let i = 0; i < end; i += 1) if (Math.abs(samples[i]) > Math.abs(samples[tick])) tick = i;
  const sound = samples.subarray(tick + Math.round((head_s - tick_s) * rate));
  decoded.set(sheet.key, sound);
  if (decoded.size > 6) decoded.delete([...decoded.keys()][0]);
  return sound;
}

/** @param {number} passage @param {number} tempo @param {string} role */
function sheetOf(passage, tempo, role) {
  return record.sheets.find((s) => s.passage === passage && s.tempo === tempo && s.role === role);
}

/** Put the stretch of a reading over the solo. @param {Float32Array} solo begins at `from` @param {number} from sample
 * @param {Float32Array} sheet @param {[number, string, number, number, number]} placed */
function lay(solo, from, sheet, placed) {
  const rate = record.sound.rate;
  const [, , start_s, end_s, at_s] = placed;
  const shift = Math.round((at_s - start_s) * rate);
  const fade = Math.round(FADE_S * rate);
  const begin = Math.round(start_s * rate) - fade;
  const end = Math.round((end_s + 0.15) * rate);
  for (let i = Math.max(begin, from); i < Math.min(end, from + solo.length); i += 1) {
    const share = Math.min(1, (i - begin) / fade, (end - i) / (4 * fade));
    const other = sheet[i + shift] || 0;
    solo[i - from] += (other - solo[i - from]) * share;
  }
}

/** The excerpt of something at a rendered tempo: left the accompaniment, right the solo.
 * @param {What} what @param {number} tempo @returns {Promise<Blob>} */
async function excerptSound(what, tempo) {
  const { rate } = record.sound;
  const sign = record.signs[what.sign];
  const passage = passageOf(what) || 0;
  const solo = sheetOf(passage, tempo, "solo");
  if (!solo) throw new Error("there is no sound for this ornament");
  const others = sheetOf(passage, tempo, "accompaniment");
  const [from_s, to_s] = spanOf(what);
  const factor = record.tempos[tempo].factor;
  const from = Math.round((from_s / factor) * rate);
  const length = Math.round((to_s / factor) * rate) - from;
  const [sheet, other] = await Promise.all([sheetSound(solo), others ? sheetSound(others) : null]);
  const right = new Float32Array(length);
  const base = sheet.subarray(from, from + length);
  right.set(base);
  for (const placed of solo.placed) {
    const index = placed[0];
    const reading = index === what.sign ? what.reading : choices[index];
    if (record.signs[index].readings[reading].words === placed[1]) lay(right, from, sheet, placed);
  }
  const left = new Float32Array(length);
  if (other) left.set(other.subarray(from, from + length));
  for (const side of [left, right]) fadeEnds(side, rate);
  return waveOf(left, right, rate);
}

/** An excerpt begins and ends in the middle of music. @param {Float32Array} sound @param {number} rate */
function fadeEnds(sound, rate) {
  const rise = Math.round(0.02 * rate);
  const fall = Math.round(0.6 * rate);
  for (let i = 0; i < Math.min(rise, sound.length); i += 1) sound[i] *= i / rise;
  for (let i = 0; i < Math.min(fall, sound.length); i += 1) sound[sound.length - 1 - i] *= i / fall;
}

/** From when to when, at the written tempo. @param {What} what @returns {[number, number]} */
function spanOf(what) {
  const sign = record.signs[what.sign];
  const passage = passageOf(what);
  if (passage === null || !sign.excerpt) return [0, 0];
  const whole = what.whole || passage !== sign.passage;
  return whole ? [0, record.passages[passage].to_s] : [sign.excerpt.from_s, sign.excerpt.to_s];
}

/** The passage a reading is heard in: the sign's, or one of its own where all parts wait. @param {What} what */
function passageOf(what) {
  return record.signs[what.sign].readings[what.reading].passage;
}

/** Which bar of a passage sounds. @param {Passage} passage @param {number} place */
function barAt(passage, place) {
  let bar = 0;
  while (bar + 1 < passage.starts_s.length && passage.starts_s[bar + 1] <= place) bar += 1;
  return bar;
}

/** A moment of one passage in another one: the same bar, as long after it began. @param {number} place
 * @param {number | null} from @param {number | null} to */
function carried(place, from, to) {
  if (from === null || to === null || from === to) return place;
  const [here, there] = [record.passages[from], record.passages[to]];
  const bar = barAt(here, place);
  const start = there.starts_s[here.barIndex + bar - there.barIndex];
  return start === undefined ? -1 : start + place - here.starts_s[bar];
}

/** A WAV file of two channels. @param {Float32Array} left @param {Float32Array} right @param {number} rate */
function waveOf(left, right, rate) {
  const view = new DataView(new ArrayBuffer(44 + 4 * left.length));
  const ascii = /** @param {number} at @param {string} text */ (at, text) =>
    [...text].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
  ascii(0, "RIFF");
  view.setUint32(4, 36 + 4 * left.length, true);
  ascii(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 2, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, rate * 4, true);
  view.setUint16(32, 4, true);
  view.setUint16(34, 16, true);
  ascii(36, "data");
  view.setUint32(40, 4 * left.length, true);
  const samples = new Int16Array(view.buffer, 44);
  for (let i = 0; i < left.length; i += 1) {
    samples[2 * i] = Math.max(-1, Math.min(1, left[i])) * 32767;
    samples[2 * i + 1] = Math.max(-1, Math.min(1, right[i])) * 32767;
  }
  return new Blob([view.buffer], { type: "audio/wav" });
}

/** The two decks, what is on, and how it is played. */
const player = {
  /** @type {AudioContext | null} */ context: null,
  /** @type {Deck[]} */ decks: [],
  active: 0,
  /** @type {What | null} */ what: null,
  /** what was on last @type {What | null} */ last: null,
  tempo: 0,
  /** the speed wanted, as a share of the written tempo */ speed: 1,
  loop: false,
  parts: { accompaniment: true, solo: true },
  turn: 0,
  /** @type {(() => void)[]} */ listeners: [],
};

/** @returns {HTMLAudioElement} */
function activeAudio() {
  return player.decks[player.active].element;
}

function tellPlayer() {
  for (const listener of player.listeners) listener();
}

function openDecks() {
  if (player.context) return player.context;
  const context = new AudioContext();
  player.context = context;
  for (let i = 0; i < 2; i += 1) {
    const element = /** @type {HTMLAudioElement} */ (make("audio", { preload: "auto" }));
    byId("sounds").append(element);
    element.preservesPitch = true;
    const gain = context.createGain();
    gain.gain.value = 0;
    const split = context.createChannelSplitter(2);
    context.createMediaElementSource(element).connect(split);
    const parts = [0, 1].map((side) => {
      const part = context.createGain();
      split.connect(part, side);
      part.connect(gain);
      return part;
    });
    gain.connect(context.destination);
    player.decks.push({ element, gain, parts, url: "" });
    element.addEventListener("ended", () => element === activeAudio() && stopSound());
  }
  return context;
}

/** The rendered tempo nearest to the one wanted. */
function nearestTempo() {
  const away = record.tempos.map((tempo) => Math.abs(Math.log(player.speed / tempo.factor)));
  return away.indexOf(Math.min(...away));
}

/** Whether something is to be heard. */
function sounding() {
  return player.what !== null;
}

function setParts() {
  for (const deck of player.decks) {
    deck.parts[0].gain.value = player.parts.accompaniment ? 1 : 0;
    deck.parts[1].gain.value = player.parts.solo ? 1 : 0;
  }
}

/** How far the sound is, in seconds of the passage at the written tempo. */
function placeNow() {
  if (!player.what || !player.decks.length) return 0;
  return spanOf(player.what)[0] + activeAudio().currentTime * record.tempos[player.tempo].factor;
}

/** Play something; if something sounds already, go over to it at the same place.
 * @param {What} what @param {boolean} [restart] */
async function playSound(what, restart = false) {
  const context = openDecks();
  const turn = (player.turn += 1);
  if (context.state === "suspended") void context.resume();
  const tempo = nearestTempo();
  const patience = setTimeout(() => saySound("Preparing the sound …"), 300);
  const sound = await excerptSound(what, tempo).finally(() => clearTimeout(patience));
  saySound("");
  if (turn !== player.turn) return;
  const before = player.what;
  const deck = player.decks[before ? 1 - player.active : player.active];
  await loaded(deck, sound, what);
  if (turn !== player.turn) return;
  const factor = record.tempos[tempo].factor;
  const keeps = before && !restart && record.signs[before.sign].passage === record.signs[what.sign].passage;
  const now = keeps ? carried(placeNow(), passageOf(before), passageOf(what)) : 0;
  const [from_s, to_s] = spanOf(what);
  const place = keeps ? now + 0.02 : from_s;
  deck.element.playbackRate = player.speed / factor;
  deck.element.loop = player.loop;
  deck.element.currentTime = place >= from_s && place < to_s - 0.05 ? (place - from_s) / factor : 0;
  setParts();
  await deck.element.play();
  if (turn !== player.turn) return deck.element.pause();
  handOver(context, deck, before !== null);
  player.what = player.last = what;
  player.tempo = tempo;
  tellPlayer();
}

/** @param {Deck} deck @param {Blob} sound @param {What} what @returns {Promise<void>} */
function loaded(deck, sound, what) {
  if (deck.url) URL.revokeObjectURL(deck.url);
  deck.url = URL.createObjectURL(sound);
  deck.element.dataset.place = record.signs[what.sign].place;
  deck.element.dataset.reading = record.signs[what.sign].readings[what.reading].words;
  return new Promise((resolve, reject) => {
    deck.element.oncanplay = () => resolve();
    deck.element.onerror = () => reject(new Error("this browser does not play the sound"));
    deck.element.src = deck.url;
    deck.element.load();
  });
}

/** Fade one deck in and the other out. @param {AudioContext} context @param {Deck} deck @param {boolean} over */
function handOver(context, deck, over) {
  const now = context.currentTime;
  for (const each of player.decks) {
    const gain = /** @type {GainNode} */ (each.gain).gain;
    gain.cancelScheduledValues(now);
    gain.setValueAtTime(gain.value, now);
    gain.linearRampToValueAtTime(each === deck ? 1 : 0, now + (over ? HANDOVER_S : 0.005));
  }
  const old = player.decks[1 - player.decks.indexOf(deck)];
  player.active = player.decks.indexOf(deck);
  setTimeout(() => old !== player.decks[player.active] && old.element.pause(), HANDOVER_S * 1000 + 20);
}

function stopSound() {
  player.turn += 1;
  player.what = null;
  for (const deck of player.decks) deck.element.pause();
  tellPlayer();
}

/** Play at another speed; goes to another rendered tempo where one is nearer. @param {number} speed */
function setSpeed(speed) {
  player.speed = speed;
  if (!player.what) return;
  if (nearestTempo() === player.tempo) activeAudio().playbackRate = speed / record.tempos[player.tempo].factor;
  else void playSound(player.what).catch(soundFails);
}

/** @param {boolean} loop */
function setLoop(loop) {
  player.loop = loop;
  for (const deck of player.decks) deck.element.loop = loop;
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
