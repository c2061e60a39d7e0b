// @ts-check
"use strict";
// The player's plan: the file the commands read (TOML), written from the choices on the page, and read again.

/** A TOML string: JSON's, and DEL, which TOML does not allow bare. @param {string} text */
function quoted(text) {
  return JSON.stringify(text).replaceAll("\x7f", "\\u007f");
}

/** @param {string} text */
function comment(text) {
  // eslint-disable-next-line no-control-regex
  return text.replace(/[\x00-\x1f\x7f\u0085\u2028\u2029]+/g, " ");
}

/** The plan with the choices on the page. */
function planText() {
  const lines = [
    `# A plan for ${comment(record.title)}: change a reading by hand; \`appui survey\` lists what else there is.`,
    "",
    "[score]",
    `title = ${quoted(record.title)}`,
    `file = ${quoted(record.file)}`,
    `sha256 = ${quoted(record.sha256)}`,
    `style = ${quoted(record.style)}`,
    `solo = ${quoted(record.solo)}`,
    ...(record.movement ? [`movement = ${quoted(record.movement)}`] : []),
    "",
    "[readings]",
  ];
  /** @type {string[]} */
  const free = [];
  record.signs.forEach((sign, index) => {
    const own = sign.embellishment && sign.readings[choices[index]].words === "embellished";
    if (own) free.push(sign.embellishment);
    // what only a plan has needs no line to be as printed
    if (own || sign.passage === null || sign.kind === "embellishment") return;
    const why = isChanged(index) ? `you chose this; the rule would have ${sign.readings[baseOf(index)].words}` : `${sign.reason} (${sign.source})`;
    // what the rules choose stays theirs
    const mark = isChanged(index) || decidedHere.has(index) || /^(plan|--take)/.test(sign.by) ? "" : "#";
    lines.push(`# ${comment(why)}`, `${mark}${quoted(sign.place)} = ${quoted(sign.readings[choices[index]].words)}`);
  });
  if (free.length) lines.push("", "[embellishments]", ...free);
  lines.push("", "# what stands at each place, to find it again in a corrected score: not to be edited", "[music]");
  record.signs.forEach((sign) => lines.push(`${quoted(sign.place)} = ${quoted(sign.music)}`));
  return `${lines.join("\n")}\n`;
}

function savePlan() {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([planText()], { type: "application/toml" }));
  link.download = `${record.file.replace(/\.[^.]*$/, "") || "score"}-plan.toml`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  tellPlan(`Saved as ${link.download}. Use it with: appui render ${record.file} out.wav --plan ${link.download}`);
}

const TABLES = ["score", "readings", "embellishments", "music"];
const KEY = String.raw`("(?:[^"\\]|\\.)*"|'[^']*'|[\w-]+)`;
const LINE = new RegExp(String.raw`^\s*${KEY}\s*=\s*("(?:[^"\\]|\\.)*"|'[^']*')\s*(?:#.*)?$`);

/** A quoted or bare word of TOML. @param {string} word @returns {string} */
function unquoted(word) {
  if (word.startsWith("'")) return word.slice(1, -1);
  if (!word.startsWith('"')) return word;
  const long = word.replace(/\\U([0-9a-fA-F]{8})/g, (_, code) => String.fromCodePoint(parseInt(code, 16)));
  return JSON.parse(long.replaceAll("\\e", "\\u001b"));
}

/** The tables of a plan, each entry with its line. Throws an error with the line for what is none.
 * @param {string} text */
function readPlan(text) {
  /** @type {Record<string, Map<string, {words: string, line: number}>>} */
  const tables = {};
  let table = "";
  text.split(/\r?\n/).forEach((row, index) => {
    const line = index + 1;
    const head = /^\s*\[\s*([\w.-]+)\s*\]\s*(?:#.*)?$/.exec(row);
    if (head) {
      table = head[1];
      if (!TABLES.includes(table)) throw new Error(`line ${line}: [${table}] is no part of a plan; take it out, with what stands under it`);
      if (tables[table]) throw new Error(`line ${line}: [${table}] stands there twice; join the two`);
      tables[table] = new Map();
      return;
    }
    if (/^\s*(?:#.*)?$/.test(row)) return;
    if (table === "embellishments") {
      tables[table].set(row.trim(), { words: "", line });
      return;
    }
    const entry = LINE.exec(row);
    if (!entry || !tables[table]) throw new Error(`line ${line} is not a way of playing in quotes`);
    const name = unquoted(entry[1]);
    if (tables[table].has(name)) throw new Error(`line ${line}: ${name} stands there twice; take one out`);
    tables[table].set(name, { words: unquoted(entry[2]), line });
  });
  if (!tables.score || !tables.readings) throw new Error("it lacks its [score] or [readings] table");
  return tables;
}

/** Take the choices of a plan, all or none. @param {string} text @param {string} name */
function takePlan(text, name) {
  const { score, readings, embellishments } = readPlan(text);
  const of = /** @param {string} key */ (key) => score.get(key)?.words;
  if (of("sha256") !== record.sha256) {
    const other = of("title") || of("file") || "unnamed";
    throw new Error(`it is for another score (${other}), or the score has changed since; this page is of ${record.title}`);
  }
  /** @type {[number, string][]} */
  const taken = [];
  const missing = [];
  for (const [place, { words, line }] of readings) {
    const index = record.signs.findIndex((sign) => sign.place === place);
    const wrong = index < 0 ? "" : wrongWords(record.signs[index], words);
    if (wrong) throw new Error(`line ${line}, ${place} = “${words}”: ${wrong}; correct the line or take it out`);
    if (index < 0) missing.push(place);
    else taken.push([index, words]);
  }
  taken.forEach(([index, words]) => choose(index, readingNamed(index, words)));
  const own = record.signs.map((sign) => sign.embellishment);
  const other = [...(embellishments ?? new Map()).keys()].filter((line) => !own.includes(line)).length;
  const anew = other ? ` ${other} of its embellishments are not on this page: make the page anew with the plan.` : "";
  const outside = missing.length ? ` Not on this page, and left out: ${missing.slice(0, 5).join(", ")}${missing.length > 5 ? " …" : ""}.` : "";
  tellPlan(`${name} is open: ${taken.length} decisions.${outside}${anew}`);
}

/** The number of a reading, one more if the page has not heard of it. @param {number} index @param {string} words */
function readingNamed(index, words) {
  const readings = record.signs[index].readings;
  const known = readings.findIndex((reading) => reading.words === words);
  if (known >= 0) return known;
  const name = words.split(" ")[0];
  const like = readings.find((reading) => reading.words.split(" ")[0] === name);
  const marks = { leaning: "leans" };
  readings.push({
    words,
    mark: like ? like.mark : marks[/** @type {"leaning"} */ (name)] || name,
    group: like ? like.group : name === "leaning" || name === "before" ? name : "other",
    whose: [],
    heard: false,
    passage: record.signs[index].passage,
  });
  return readings.length - 1;
}

/** @param {string} words */
function tellPlan(words) {
  const changed = choices.filter((_, index) => isChanged(index) || decidedHere.has(index)).length;
  const kept = cannotKeep
    ? "this browser keeps nothing: save them as a plan before you close the page"
    : "kept in this browser; save them as a plan for the commands";
  const plain = "Everything is as the style has it. Choose otherwise at an ornament: it is kept in this browser, and can be saved as a plan for the commands.";
  byId("plan-said").textContent = words || (changed ? `${changed} of ${choices.length} decisions changed, ${kept}.` : plain);
  byId("plan-forget").setAttribute("aria-disabled", String(!changed));
}

function forgetPlan() {
  const changed = choices.filter((_, index) => isChanged(index) || decidedHere.has(index)).length;
  if (!changed || !window.confirm(`Forget the choices at ${changed === 1 ? "one ornament" : `${changed} ornaments`}?`)) return;
  forgetChoices();
  tellPlan("Forgotten: everything is as the style has it.");
}

function setUpPlan() {
  byId("plan-save").addEventListener("click", savePlan);
  byId("plan-forget").addEventListener("click", forgetPlan);
  const input = /** @type {HTMLInputElement} */ (byId("plan-open"));
  input.addEventListener("change", async () => {
    const file = input.files && input.files[0];
    if (!file) return;
    try {
      takePlan(await file.text(), file.name);
    } catch (error) {
      tellPlan(`${file.name} is refused: ${error instanceof Error ? error.message : String(error)}.`);
    }
    input.value = "";
  });
  listeners.push(() => {
    keepChoices();
    tellPlan("");
  });
  takeKept();
  window.addEventListener("beforeunload", (event) => cannotKeep && choices.some((_, index) => isChanged(index)) && event.preventDefault());
  tellPlan("");
}
