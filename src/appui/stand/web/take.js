// @ts-check
"use strict";
// A take: recorded by the browser while the track plays, heard by the stand, told beside what was decided.

const take = {
  /** @type {MediaStream | null} */ stream: null,
  /** @type {AudioWorkletNode | null} */ node: null,
  /** @type {Float32Array[]} */ blocks: [],
  /** @type {any} */ report: null,
  /** @type {AudioBuffer | null} */ buffer: null,
  said: "",
};

function showTakes() {
  const place = byId("takes");
  const can = Boolean(navigator.mediaDevices?.getUserMedia) && window.isSecureContext;
  place.replaceChildren(
    make("h2", {}, "Hear what you played"),
    make("p", { class: "caption" }, can
      ? "Wear headphones, the microphone a step away; play after the count. Nothing leaves this machine, and nothing is kept."
      : "This browser records only on the machine the stand runs on: open the first address that was printed there."),
    make("p", { class: "row" },
      ...(can ? [button(take.node ? "End the take" : "Record these bars", () => void (take.node ? endTake() : beginTake()), { "data-key": "record" })] : []),
      ...(take.buffer ? [button("Hear me", hearMe, { "data-key": "hear me" })] : []),
      ...hearWays(),
      make("span", { role: "status" }, take.said)),
    ...(take.report ? [reportTable(take.report)] : []),
  );
}

/** The ways of playing of the one ornament, to be heard in turn with the take. */
function hearWays() {
  const sign = ornaments.find((each) => each.place === wanted.place);
  if (!take.buffer || !sign) return [];
  return sign.readings.slice(0, 3).map((/** @type {any} */ each) =>
    button(`Hear “${each.words}”`, async () => {
      const sound = await soundFrom(roundAddress(wanted.from, each.words));
      setLevel("solo", 1);
      setLevel("others", 0);
      playRounds([sound]);
    }));
}

function hearMe() {
  if (!take.buffer) return;
  const context = openEngine();
  stopRounds();
  const source = context.createBufferSource();
  source.buffer = take.buffer;
  source.connect(context.destination);
  source.start();
}

/** @param {string} words */
function tellTake(words) {
  take.said = words;
  say(words);
  showTakes();
}

async function beginTake() {
  const context = openEngine();
  try {
    take.stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
    await context.audioWorklet.addModule("/web/recorder.js");
  } catch (error) {
    return tellTake(`The microphone cannot be used: ${wordsOf(error)}`);
  }
  take.blocks = [];
  take.report = null;
  const node = new AudioWorkletNode(context, "recorder", { numberOfOutputs: 0 });
  node.port.onmessage = (event) => take.blocks.push(event.data);
  context.createMediaStreamSource(take.stream).connect(node);
  take.node = node;
  tellTake("Recording: play after the count.");
  wanted.mode = wanted.mode === "whole" || wanted.mode === "alternate" ? "along" : wanted.mode;
  stopRounds();
  const sound = await soundFrom(roundAddress(wanted.from, ""));
  setLevel("others", 1);
  setLevel("solo", 0);
  setLevel("click", wanted.click ? 1 : 0);
  playRounds([sound], { count: true });
  dressPractice();
  const ended = engine.ended;
  engine.ended = () => {
    engine.ended = ended;
    ended();
    if (take.node) void endTake();
  };
}

async function endTake() {
  const context = openEngine();
  stopRounds();
  take.node?.disconnect();
  take.node = null;
  for (const track of take.stream?.getTracks() || []) track.stop();
  const length = take.blocks.reduce((sum, block) => sum + block.length, 0);
  if (!length) return tellTake("Nothing was recorded: is the microphone on?");
  const buffer = context.createBuffer(1, length, context.sampleRate);
  let at = 0;
  for (const block of take.blocks) {
    buffer.copyToChannel(/** @type {Float32Array<ArrayBuffer>} */ (block), 0, at);
    at += block.length;
  }
  take.buffer = buffer;
  tellTake("Listening to it …");
  try {
    const said = query({ bars: barsWords(), tempo: `${wanted.from}%`, pitch: wanted.pitch });
    take.report = await change(`${ofPiece("take")}?${said}`, waveOf(buffer));
    tellTake("");
  } catch (error) {
    tellTake(wordsOf(error));
  }
}

/** A WAV file of one channel, 16 bit. @param {AudioBuffer} buffer */
function waveOf(buffer) {
  const samples = buffer.getChannelData(0);
  const view = new DataView(new ArrayBuffer(44 + 2 * samples.length));
  const ascii = (/** @type {number} */ at, /** @type {string} */ text) => [...text].forEach((letter, i) => view.setUint8(at + i, letter.charCodeAt(0)));
  ascii(0, "RIFF");
  view.setUint32(4, 36 + 2 * samples.length, true);
  ascii(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, buffer.sampleRate, true);
  view.setUint32(28, buffer.sampleRate * 2, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  ascii(36, "data");
  view.setUint32(40, 2 * samples.length, true);
  samples.forEach((sample, i) => view.setInt16(44 + 2 * i, Math.round(Math.max(-1, Math.min(1, sample)) * 32767), true));
  return new Blob([view.buffer], { type: "audio/wav" });
}

/** @param {any} report */
function reportTable(report) {
  const rows = report.rows.map((/** @type {any} */ each) =>
    make("tr", {}, make("th", { scope: "row", "data-name": "Place" }, each.place), make("td", { "data-name": "Printed" }, each.printed), make("td", { "data-name": "Decided" }, each.decided),
      make("td", { "data-name": "Played" }, each.played), make("td", { "data-name": "To note" }, each.remark)));
  return make("div", {},
    make("p", {}, [report.summary, ...report.notices].join(" ")),
    make("table", {}, make("thead", {}, make("tr", {}, ...["Place", "Printed", "Decided", "Played", "To note"].map((name) => make("th", { scope: "col" }, name)))), make("tbody", {}, ...rows)),
    make("p", { class: "caption" }, report.cannot_know || ""));
}

practisePage();
