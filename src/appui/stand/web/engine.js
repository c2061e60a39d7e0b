// @ts-check
"use strict";
// Sound from the stand: fetched when asked for, played in exact time, in loops without a gap.
//
// A sound has the accompaniment on the left and the solo on the right; both go through a gain of their own to the
// middle. Rounds overlap: the next begins where the bars of the last end, while that one still rings and the small
// notes before the next one's first beat lie over it.

/** @typedef {{buffer: AudioBuffer, line: Line}} Sounding */
/** @typedef {{sound: Sounding, at: number, source: AudioBufferSourceNode, gain: GainNode}} Turn */

const AHEAD_S = 0.35;
const OVER_S = 0.04;

const engine = {
  /** @type {AudioContext | null} */ context: null,
  /** @type {Record<string, GainNode>} */ gains: {},
  /** @type {Record<string, number>} */ levels: { solo: 1, others: 1, click: 0 },
  /** @type {Turn[]} */ turns: [],
  /** what the next rounds are, in turn @type {Sounding[]} */ next: [],
  round: 0,
  rounds: 1,
  /** whether a bar is counted before the sound of this number in `next` @type {boolean[]} */ counted: [],
  /** @type {number | undefined} */ timer: undefined,
  /** @type {Map<string, Promise<Sounding>>} */ kept: new Map(),
  token: 0,
  /** @type {(() => void)} */ ended: () => {},
  /** @type {((round: number) => void)} */ began: () => {},
};

function openEngine() {
  if (engine.context) return engine.context;
  const context = new AudioContext({ latencyHint: "interactive" });
  engine.context = context;
  for (const name of ["solo", "others", "click"]) {
    const gain = context.createGain();
    gain.gain.value = engine.levels[name];
    gain.connect(context.destination);
    engine.gains[name] = gain;
  }
  return context;
}

/** How loud a group is, 0 to 1. @param {string} name @param {number} level */
function setLevel(name, level) {
  engine.levels[name] = level;
  const context = engine.context;
  if (context) engine.gains[name].gain.setTargetAtTime(level, context.currentTime, 0.01);
}

/** A sound by its address, fetched once. @param {string} address @returns {Promise<Sounding>} */
function soundFrom(address) {
  const known = engine.kept.get(address);
  if (known) {
    engine.kept.delete(address);
    engine.kept.set(address, known);
    return known;
  }
  const coming = fetchSound(address);
  engine.kept.set(address, coming);
  coming.catch(() => engine.kept.delete(address));
  let bytes = 0;
  for (const [key] of [...engine.kept].reverse()) {
    bytes += 1;
    if (bytes > 16) engine.kept.delete(key);
  }
  return coming;
}

/** @param {string} address @returns {Promise<Sounding>} */
async function fetchSound(address) {
  const answer = await asked(address);
  const line = JSON.parse(answer.headers.get("appui-timeline") || "{}");
  // decoded without an open context too: to fetch beforehand makes no sound
  const buffer = await new OfflineAudioContext(2, 1, 44100).decodeAudioData(await answer.arrayBuffer());
  return { buffer, line };
}

/** Put one round on the line. @param {Sounding} sound @param {number} at the moment of the sound's own beginning
 * @param {number} from how much of it is left out */
function putRound(sound, at, from = 0) {
  const context = openEngine();
  const source = context.createBufferSource();
  source.buffer = sound.buffer;
  const split = context.createChannelSplitter(2);
  const gain = context.createGain();
  const sides = ["others", "solo"].map((name, side) => {
    const level = context.createGain();
    split.connect(level, side);
    level.connect(engine.gains[name]);
    return level;
  });
  source.connect(gain);
  gain.connect(split);
  source.start(Math.max(at + from, 0), Math.max(from, 0));
  const turn = { sound, at, source, gain };
  source.onended = () => {
    engine.turns = engine.turns.filter((each) => each !== turn);
    for (const node of [source, gain, split, ...sides]) node.disconnect();
    if (!engine.turns.length && engine.timer === undefined) finished();
  };
  engine.turns.push(turn);
  putClicks(sound.line.clicks, at, from);
}

/** @param {[number, number][]} clicks @param {number} at @param {number} from */
function putClicks(clicks, at, from) {
  for (const [moment, rank] of clicks) if (moment >= from - 0.001) putClick(at + moment, rank, "click");
}

/** One click. @param {number} at @param {number} rank @param {string} group */
function putClick(at, rank, group) {
  const context = openEngine();
  if (at < context.currentTime) return;
  const tone = context.createOscillator();
  const gain = context.createGain();
  tone.type = "triangle";
  tone.frequency.value = [1760, 1318, 988][rank] || 988;
  const loud = [0.5, 0.33, 0.16][rank] || 0.16;
  gain.gain.setValueAtTime(0, at);
  gain.gain.linearRampToValueAtTime(loud, at + 0.002);
  gain.gain.exponentialRampToValueAtTime(0.001, at + 0.06);
  tone.connect(gain);
  gain.connect(group === "count" ? context.destination : engine.gains.click);
  tone.start(at);
  tone.stop(at + 0.07);
  clicksPut.add(tone);
  tone.onended = () => {
    clicksPut.delete(tone);
    gain.disconnect();
  };
}

/** @type {Set<OscillatorNode>} */
const clicksPut = new Set();

function silenceClicks() {
  for (const tone of clicksPut) tone.stop();
  clicksPut.clear();
}

/** Play rounds of sounds in turn. @param {Sounding[]} sounds @param {{rounds?: number, count?: boolean,
 *   from?: number, over?: boolean, counted?: boolean[]}} [how] `from` is where in the first sound to begin, seconds */
function playRounds(sounds, how = {}) {
  const context = openEngine();
  if (context.state === "suspended") void context.resume();
  const now = context.currentTime;
  fadeOut(now, how.over ? OVER_S : 0.01);
  silenceClicks();
  engine.next = sounds;
  engine.rounds = how.rounds || 1;
  engine.counted = how.counted || [];
  engine.round = 0;
  const first = sounds[0];
  const start = now + 0.03;
  let at = start - (how.from || 0);
  if (how.count && first.line.count.length) {
    for (const [moment, rank] of first.line.count) putClick(start + moment, rank, "count");
    at = start + first.line.count_s - first.line.lead_s;
  }
  putRound(first, at, how.from || 0);
  const turn = engine.turns[engine.turns.length - 1];
  turn.gain.gain.setValueAtTime(0, Math.max(at + (how.from || 0), now));
  turn.gain.gain.linearRampToValueAtTime(1, Math.max(at + (how.from || 0), now) + (how.over ? OVER_S : 0.004));
  engine.began(0);
  clearInterval(engine.timer);
  engine.timer = window.setInterval(() => putNext(), 60);
}

/** Fade everything out that sounds. @param {number} now @param {number} length */
function fadeOut(now, length) {
  for (const turn of engine.turns) {
    const gain = turn.gain.gain;
    gain.cancelScheduledValues(now);
    gain.setValueAtTime(gain.value, now);
    gain.linearRampToValueAtTime(0, now + length);
    turn.source.onended = null;
    turn.source.stop(now + length + 0.01);
  }
  engine.turns = [];
}

function putNext() {
  const context = openEngine();
  const last = engine.turns[engine.turns.length - 1];
  if (!last) return;
  const ends = last.at + last.sound.line.lead_s + last.sound.line.body_s;
  if (ends - context.currentTime > AHEAD_S) return;
  if (engine.round + 1 >= engine.rounds) {
    clearInterval(engine.timer);
    engine.timer = undefined;
    return;
  }
  engine.round += 1;
  const number = engine.round % engine.next.length;
  const sound = engine.next[number];
  const begins = ends + (engine.counted[number] ? sound.line.count_s : 0);
  if (engine.counted[number]) for (const [moment, rank] of sound.line.count) putClick(ends + moment, rank, "count");
  putRound(sound, begins - sound.line.lead_s);
  const wait = Math.max(begins - context.currentTime, 0) * 1000;
  const round = engine.round;
  window.setTimeout(() => engine.timer !== undefined && engine.began(round), wait);
}

function finished() {
  engine.ended();
}

function stopRounds() {
  engine.token += 1;
  clearInterval(engine.timer);
  engine.timer = undefined;
  silenceClicks();
  if (engine.context) fadeOut(engine.context.currentTime, 0.02);
}

/** What sounds now, and how far it is in seconds; null in silence. */
function soundingNow() {
  const context = engine.context;
  if (!context || !engine.turns.length) return null;
  const now = context.currentTime - (context.outputLatency || 0);
  const begun = engine.turns.filter((turn) => turn.at + turn.sound.line.lead_s <= now + 0.001);
  const turn = begun[begun.length - 1] || engine.turns[0];
  return { sound: turn.sound, place: now - turn.at };
}

/** The same musical place in another sound of the same bars: between the same two beats. @param {Line} from
 * @param {Line} to @param {number} place */
function samePlace(from, to, place) {
  const beats = from.clicks;
  if (beats.length !== to.clicks.length || !beats.length) return Math.min(place, to.body_s);
  let beat = 0;
  while (beat + 1 < beats.length && beats[beat + 1][0] <= place) beat += 1;
  const ends = (/** @type {Line} */ line) => (beat + 1 < beats.length ? line.clicks[beat + 1][0] : line.lead_s + line.body_s);
  const share = (place - beats[beat][0]) / Math.max(ends(from) - beats[beat][0], 0.001);
  return Math.max(to.clicks[beat][0] + share * (ends(to) - to.clicks[beat][0]), 0);
}

/** Which bar sounds, by its index in the score. @param {Line} line @param {number} place */
function barNow(line, place) {
  let bar = line.bars.length ? line.bars[0][1] : -1;
  for (const [moment, index] of line.bars) if (moment <= place + 0.02) bar = index;
  return bar;
}
