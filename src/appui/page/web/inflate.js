// @ts-check
"use strict";
// Packed text unpacked at once. The browser's own unpacker answers later, and paper does not wait: what is printed must
// be drawn when the browser says that it prints. The formats: RFC 1952 (gzip) and RFC 1951 (deflate), memory.

const LENGTH_FROM = [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258];
const LENGTH_BITS = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
const BACK_FROM = [1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577];
const BACK_BITS = BACK_FROM.map((_, code) => Math.max(0, (code >> 1) - 1));
const CODE_ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];
const GZIP_HEAD = 10;

/** What stands in the bits: a table by the next bits, each entry a symbol and how many bits it takes.
 * @param {number[]} lengths @returns {{table: Uint16Array, bits: number}} */
function codesOf(lengths) {
  const bits = Math.max(...lengths, 1);
  const table = new Uint16Array(1 << bits);
  let code = 0;
  for (let length = 1; length <= bits; length += 1) {
    lengths.forEach((each, symbol) => {
      if (each !== length) return;
      let at = 0;
      for (let i = 0; i < length; i += 1) at |= ((code >> i) & 1) << (length - 1 - i);
      for (; at < table.length; at += 1 << length) table[at] = (symbol << 4) | length;
      code += 1;
    });
    code <<= 1;
  }
  return { table, bits };
}

/** @param {Uint8Array} bytes */
function bitsOf(bytes) {
  let at = GZIP_HEAD;
  let held = 0;
  let have = 0;
  const fill = /** @param {number} count */ (count) => {
    for (; have < count; have += 8) held |= (bytes[at++] || 0) << have;
  };
  const drop = /** @param {number} count */ (count) => {
    held >>>= count;
    have -= count;
  };
  const take = /** @param {number} count */ (count) => {
    fill(count);
    const value = held & ((1 << count) - 1);
    drop(count);
    return value;
  };
  const symbol = /** @param {{table: Uint16Array, bits: number}} codes */ (codes) => {
    fill(codes.bits);
    const entry = codes.table[held & ((1 << codes.bits) - 1)];
    drop(entry & 15);
    return entry >> 4;
  };
  const plain = () => {
    // bytes that were read ahead are given back
    at -= have >> 3;
    held = have = 0;
    const length = bytes[at] | (bytes[at + 1] << 8);
    at += 4 + length;
    return bytes.subarray(at - length, at);
  };
  return { take, symbol, plain };
}

const FIXED = [
  codesOf(Array.from({ length: 288 }, (_, i) => (i < 144 ? 8 : i < 256 ? 9 : i < 280 ? 7 : 8))),
  codesOf(Array.from({ length: 30 }, () => 5)),
];

/** The two tables a block brings along. @param {ReturnType<typeof bitsOf>} bits */
function ownCodes(bits) {
  const [literals, backs, order] = [bits.take(5) + 257, bits.take(5) + 1, bits.take(4) + 4];
  const lengths = new Array(19).fill(0);
  for (let i = 0; i < order; i += 1) lengths[CODE_ORDER[i]] = bits.take(3);
  const codes = codesOf(lengths);
  /** @type {number[]} */
  const all = [];
  while (all.length < literals + backs) {
    const symbol = bits.symbol(codes);
    if (symbol < 16) all.push(symbol);
    else {
      const same = symbol === 16 ? all[all.length - 1] : 0;
      const times = symbol === 16 ? 3 + bits.take(2) : symbol === 17 ? 3 + bits.take(3) : 11 + bits.take(7);
      for (let i = 0; i < times; i += 1) all.push(same);
    }
  }
  return [codesOf(all.slice(0, literals)), codesOf(all.slice(literals))];
}

/** What was packed with gzip, without a file's name. @param {Uint8Array} bytes @returns {string} */
function unzipped(bytes) {
  const size = new DataView(bytes.buffer, bytes.byteOffset + bytes.length - 4).getUint32(0, true);
  const out = new Uint8Array(size);
  const bits = bitsOf(bytes);
  let end = 0;
  for (let last = 0; !last; ) {
    last = bits.take(1);
    const kind = bits.take(2);
    if (kind === 0) {
      const same = bits.plain();
      out.set(same, end);
      end += same.length;
      continue;
    }
    const [literals, backs] = kind === 1 ? FIXED : ownCodes(bits);
    for (let symbol = bits.symbol(literals); symbol !== 256; symbol = bits.symbol(literals)) {
      if (symbol < 256) {
        out[end++] = symbol;
        continue;
      }
      const length = LENGTH_FROM[symbol - 257] + bits.take(LENGTH_BITS[symbol - 257]);
      const code = bits.symbol(backs);
      const back = BACK_FROM[code] + bits.take(BACK_BITS[code]);
      for (const stop = end + length; end < stop; end += 1) out[end] = out[end - back];
    }
  }
  return new TextDecoder().decode(out);
}
