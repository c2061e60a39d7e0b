// @ts-check
"use strict";
// The list of all signs: sorted by a column's head, filtered by what they do, each row leading to its place.

/** @type {[string, string, (index: number) => string | number][]} */
const COLUMNS = [
  ["place", "Bar, beat", (i) => i],
  ["printed", "Printed", (i) => record.signs[i].printed],
  ["harmony", "Harmony", (i) => record.signs[i].harmony?.chord || ""],
  ["verdict", "Verdict", (i) => verdictOf(i)],
  ["reading", "Your choice", (i) => (isHidden(i) ? "" : record.signs[i].readings[choices[i]].words)],
  ["sure", "Sure", (i) => (record.signs[i].small && record.signs[i].harmony?.confidence) || 0],
];
/** @type {[string, (index: number) => boolean][]} */
const FILTERS = [
  ["All", () => true],
  ["Leaning", (i) => record.signs[i].readings[choices[i]].group === "leaning"],
  ["Before the beat", (i) => record.signs[i].readings[choices[i]].group === "before"],
  ["Others", (i) => record.signs[i].readings[choices[i]].group === "other"],
  ["Doubtful", (i) => record.signs[i].doubtful],
];
const sorting = { column: 0, down: false };
let filter = 0;

function showFilters() {
  byId("filters").replaceChildren(
    ...FILTERS.map(([name, fits], number) =>
      button(`${name} ${record.signs.filter((_, i) => fits(i)).length}`, () => filterBy(number), {
        "aria-pressed": String(number === filter),
      }),
    ),
  );
}

/** @param {number} number */
function filterBy(number) {
  filter = number;
  showTable();
  /** @type {HTMLElement | undefined} */ (byId("filters").children[number])?.focus();
}

/** @param {number} column */
function sortBy(column) {
  sorting.down = sorting.column === column && !sorting.down;
  sorting.column = column;
  showTable();
  /** @type {HTMLElement | null} */ (byId("table").querySelector(`th:nth-child(${column + 1}) button`))?.focus();
}

/** What the list is sorted by, for a screen too narrow for the heads of the columns. */
function sortingPart() {
  const choice = /** @type {HTMLSelectElement} */ (
    make("select", { id: "sort-by" }, ...COLUMNS.map(([, name], column) => make("option", { selected: column === sorting.column }, name)))
  );
  choice.addEventListener("change", () => {
    Object.assign(sorting, { column: choice.selectedIndex, down: false });
    showTable();
    byId("sort-by").focus();
  });
  const turn = button(sorting.down ? "↑ the other way" : "↓ the other way", () => {
    sorting.down = !sorting.down;
    showTable();
    byId("sort-way").focus();
  }, { id: "sort-way", "aria-label": sorting.down ? "Sort upwards" : "Sort downwards" });
  return make("p", { class: "row sorting" }, make("label", { for: "sort-by" }, "Sorted by"), choice, turn);
}

/** The signs to show, in order. */
function rowsShown() {
  const value = COLUMNS[sorting.column][2];
  const rows = record.signs.map((_, i) => i).filter((i) => FILTERS[filter][1](i));
  rows.sort((a, b) => {
    const [x, y] = [value(a), value(b)];
    const order = typeof x === "number" && typeof y === "number" ? x - y : String(x).localeCompare(String(y));
    return (sorting.down ? -order : order) || a - b;
  });
  return rows;
}

function showTable() {
  showFilters();
  const rows = rowsShown();
  byId("count").textContent = `${rows.length} of ${record.signs.length} ornaments`;
  const heads = COLUMNS.map(([, name], column) => {
    const sorted = sorting.column !== column ? "none" : sorting.down ? "descending" : "ascending";
    const arrow = { none: "", ascending: " ↑", descending: " ↓" }[sorted];
    return make("th", { scope: "col", "aria-sort": sorted }, button(name + arrow, () => sortBy(column)));
  });
  byId("table").replaceChildren(
    sortingPart(),
    make("table", {}, make("thead", {}, make("tr", {}, ...heads)), make("tbody", {}, ...rows.map(tableRow))),
  );
}

/** @param {number} index */
function tableRow(index) {
  const sign = record.signs[index];
  const reading = sign.readings[choices[index]];
  const harmony = sign.harmony ? [sign.harmony.chord, sign.harmony.roman || sign.harmony.figure] : [];
  const sure = sign.small && sign.harmony ? `${Math.round(sign.harmony.confidence * 100)} %` : "";
  const go = button(`${sign.movement ? `${sign.movement}: ` : ""}${sign.bar}, ${sign.beat}`, () => leadTo(index), {
    "aria-label": `${sign.bar}, ${sign.beat}: show ${whereWords(sign)} in the score`,
  });
  return make(
    "tr",
    { "data-sign": String(index), "data-group": isHidden(index) ? "" : reading.group },
    make("th", { scope: "row", "data-name": "Bar, beat" }, go),
    make("td", { "data-name": "Printed" }, sign.printed),
    make("td", { "data-name": "Harmony" }, harmony.filter(Boolean).join("  ")),
    make("td", { "data-name": "Verdict" }, make("span", { class: "verdict" }, verdictOf(index))),
    make("td", { "data-name": "Your choice" }, isHidden(index) ? "" : reading.words + (isChanged(index) ? " (changed)" : "")),
    make("td", { "data-name": "Sure" }, sign.doubtful ? `${sure}, doubtful` : sure),
  );
}

/** @param {number} index */
function leadTo(index) {
  openSign(index);
  showSign(index, true);
}
