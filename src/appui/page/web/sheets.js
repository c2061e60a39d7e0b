// @ts-check
"use strict";
// Sheets of sound: decoded once, and cut together to what is to be heard at a rendered tempo.

const FADE_S = 0.012;
//  before and after what is cut out of the middle of music
const EDGE_S = 0.015;
const ON_S = 0.6;

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

/** What is heard of something at a rendered tempo. The music lasts exactly as long as its bars: what comes before the
 * first beat and what rings after the last one stand outside it. @param {What} what @param {number} tempo
 * @param {boolean} loop @returns {Promise<Cut>} */
async function cutSound(what, tempo, loop) {
  const { rate } = record.sound;
  const passage = passageOf(what) || 0;
  const solo = sheetOf(passage, tempo, "solo");
  if (!solo) throw new Error("there is no sound for this ornament");
  const others = sheetOf(passage, tempo, "accompaniment");
  const { factor } = record.tempos[tempo];
  const span = spanOf(what);
  const last = span.to_s >= record.passages[passage].to_s - 1e-3;
  const samples = /** @param {number} seconds */ (seconds) => Math.round((seconds / factor) * rate);
  const lead = Math.max(samples(span.lead_s), Math.round(EDGE_S * rate));
  const ring = Math.round((last ? record.sound.ring_s : loop ? EDGE_S : ON_S) * rate);
  const from = samples(span.from_s) - lead;
  const length = samples(span.to_s) - samples(span.from_s);
  const [sheet, other] = await Promise.all([sheetSound(solo), others ? sheetSound(others) : null]);
  const sides = [other, sheet].map((each) => {
    const side = new Float32Array(lead + length + ring);
    if (each) side.set(each.subarray(Math.max(from, 0), from + side.length), Math.max(-from, 0));
    return side;
  });
  for (const placed of solo.placed) {
    const index = placed[0];
    const reading = index === what.sign ? what.reading : choices[index];
    if (record.signs[index].readings[reading].words === placed[1]) lay(sides[1], from, sheet, placed);
  }
  for (const side of sides) fadeEnds(side, Math.round(EDGE_S * rate), ring);
  return { sides, lead, length, ring, early: span.lead_s > 0 };
}

/** @param {Float32Array} sound @param {number} rise @param {number} fall samples */
function fadeEnds(sound, rise, fall) {
  for (let i = 0; i < Math.min(rise, sound.length); i += 1) sound[i] *= i / rise;
  for (let i = 0; i < Math.min(fall, sound.length); i += 1) sound[sound.length - 1 - i] *= i / fall;
}

/** From the first beat of which bar to the end of which one, at the written tempo, and how long before it small notes
 * come. @param {What} what @returns {Span} */
function spanOf(what) {
  const sign = record.signs[what.sign];
  const passage = passageOf(what);
  if (passage === null || !sign.excerpt) return { from_s: 0, to_s: 0, lead_s: 0 };
  return what.whole || passage !== sign.passage ? record.passages[passage] : sign.excerpt;
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

/** The rendered tempo nearest to the one wanted. */
function nearestTempo() {
  const away = record.tempos.map((tempo) => Math.abs(Math.log(player.speed / tempo.factor)));
  return away.indexOf(Math.min(...away));
}

/** A sound at the speed wanted. @param {What} what @param {boolean} loop @returns {Promise<Cut>} */
async function soundAt(what, loop) {
  const { rate } = record.sound;
  const tempo = nearestTempo();
  const cut = await cutSound(what, tempo, loop);
  const ratio = player.speed / record.tempos[tempo].factor;
  const paced = /** @param {number} samples */ (samples) => Math.round(samples / ratio);
  const lead = paced(cut.lead);
  const length = paced(cut.lead + cut.length) - lead;
  const sides = stretched(cut.sides, ratio, rate);
  return { sides, lead, length, ring: sides[0].length - lead - length, early: cut.early };
}

/** The slowest and the quickest tempo, in hundredths of the written one. */
function tempoRange() {
  const factors = record.tempos.map((tempo) => tempo.factor * 100);
  // of one tempo alone more is asked than of two
  const [down, up] = factors.length > 1 ? [0.8, 1.2] : [2 / 3, 4 / 3];
  return [Math.round(Math.min(...factors) * down), Math.round(Math.max(...factors) * up)];
}

/** The tempos that are on the page as they were played. */
function recordedTempos() {
  return record.tempos;
}
