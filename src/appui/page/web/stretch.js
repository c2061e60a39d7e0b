// @ts-check
"use strict";
// Sound made slower or faster at the same pitch: short pieces of it are laid over one another at other distances, each
// taken from where it goes on best from the one before (waveform similarity overlap-add, Verhelst and Roelands 1993,
// memory). Accompaniment and solo are cut at the same places, so they stay together.

const PIECE_S = 0.06;
const SEARCH_S = 0.012;
const COARSE = 4;

/** @param {Float32Array[]} sides @param {number} length @returns {Float32Array} */
function together(sides, length) {
  const sum = new Float32Array(length);
  for (const side of sides) for (let i = 0; i < Math.min(length, side.length); i += 1) sum[i] += side[i];
  return sum;
}

/** How well the sound at one place goes on like the sound at another. @param {Float32Array} sound @param {number} one
 * @param {number} other @param {number} length */
function alike(sound, one, other, length) {
  let product = 0;
  let energy = 1e-9;
  for (let i = 0; i < length; i += COARSE) {
    product += sound[one + i] * sound[other + i];
    energy += sound[other + i] * sound[other + i];
  }
  return product / Math.sqrt(energy);
}

/** The place near `at` that goes on best as the sound at `like` does. @param {Float32Array} sound @param {number} at
 * @param {number} like @param {number} hop @param {number} search */
function bestNear(sound, at, like, hop, search) {
  let best = at;
  let score = -Infinity;
  const look = /** @param {number} from @param {number} to @param {number} step */ (from, to, step) => {
    for (let place = Math.max(0, from); place <= to; place += step) {
      const found = alike(sound, like, place, hop);
      if (found > score) [best, score] = [place, found];
    }
  };
  look(at - search, at + search, COARSE);
  look(best - COARSE + 1, best + COARSE - 1, 1);
  return best;
}

/** Sounds that belong together, played `speed` times as fast at the same pitch. @param {Float32Array[]} sides
 * @param {number} speed @param {number} rate @returns {Float32Array[]} */
function stretched(sides, speed, rate) {
  if (Math.abs(speed - 1) < 1e-6) return sides;
  const hop = Math.round((PIECE_S * rate) / 2);
  const search = Math.round(SEARCH_S * rate);
  const length = Math.round(sides[0].length / speed);
  const sum = together(sides, sides[0].length + 3 * hop + search);
  const out = sides.map(() => new Float32Array(length));
  let before = 0;
  for (let at = 0; at < length + hop; at += hop) {
    const wanted = Math.min(Math.round((at - hop) * speed), sides[0].length);
    const from = at === 0 ? -hop : bestNear(sum, Math.max(wanted, 0), before + hop, hop, search);
    out.forEach((side, number) => layPiece(side, at - hop, sides[number], from, hop));
    before = Math.max(from, 0) - (at === 0 ? hop : 0);
  }
  return out;
}

/** Add a piece of two hops under a window whose neighbours add up to one. @param {Float32Array} out @param {number} at
 * @param {Float32Array} sound @param {number} from @param {number} hop */
function layPiece(out, at, sound, from, hop) {
  for (let i = 0; i < 2 * hop; i += 1) {
    if (at + i < 0 || at + i >= out.length || from + i < 0 || from + i >= sound.length) continue;
    out[at + i] += sound[from + i] * (0.5 - 0.5 * Math.cos((Math.PI * (i + 0.5)) / hop));
  }
}
