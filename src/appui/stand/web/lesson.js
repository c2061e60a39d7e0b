// @ts-check
"use strict";
// Teacher and pupil: remarks, the page that is sent, and the answers that come back.

/** @type {{remarks: Record<string, string>, decide: string[]}} */
let letter = { remarks: {}, decide: [] };
/** @type {any[]} */
let places = [];
let hide = true;

function lessonPage() {
  document.title = `Teacher and pupil: ${room.piece.title}`;
  byId("main").replaceChildren(
    make("h1", {}, room.piece.title),
    make("section", { class: "card" }, make("h2", {}, "A page to send"),
      make("p", {}, "Write a remark at an ornament, tick what is to be decided, and send one page: it opens in any browser, without a network, with its sound. It gives back one small file with the pupil's answers."),
      make("p", { class: "row" }, tick("Hide the answers at the ornaments that are to be decided", hide, (on) => {
        hide = on;
      }), ...(mayChange ? [button("Make the page", () => void makePage(), { id: "make-page" })] : [])),
      make("ul", { id: "work", class: "pieces" })),
    make("section", { class: "card" }, make("h2", {}, "Answers that came back"),
      make("p", { class: "row" }, answersInput()), make("div", { id: "answers" })),
    make("p", { id: "lesson-said", role: "status" }),
    make("section", { class: "card" }, make("h2", {}, "The ornaments"), make("div", { id: "ornaments" }, make("p", {}, "Reading …"))),
  );
  void fetchLesson();
}

function answersInput() {
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "file", accept: ".json,application/json", id: "answers-file" }));
  input.addEventListener("change", async () => {
    const file = input.files?.[0];
    if (!file) return;
    try {
      showAnswers(await change(ofPiece("answers"), file));
      tellLesson("");
    } catch (error) {
      tellLesson(`${file.name}: ${wordsOf(error)}`);
    }
    input.value = "";
  });
  return make("label", { class: "file" }, "Take answers in ", input);
}

/** @param {string} words */
function tellLesson(words) {
  tellAt(byId("lesson-said"), words);
}

async function fetchLesson() {
  try {
    [letter, places] = await Promise.all([ask(ofPiece("remarks")), ask(ofPiece("record")).then((record) => record.signs.filter((/** @type {any} */ sign) => sign.passage !== null))]);
    showOrnaments();
    void showWork();
  } catch (error) {
    tellLesson(wordsOf(error));
  }
}

function showOrnaments() {
  byId("ornaments").replaceChildren(
    make("table", {}, make("thead", {}, make("tr", {}, ...["Bar, beat", "Printed", "As you have it", "To decide", "Your remark"].map((name) => make("th", { scope: "col" }, name)))),
      make("tbody", {}, ...places.map(ornamentRow))),
  );
}

/** @param {any} sign */
function ornamentRow(sign) {
  const remark = /** @type {HTMLTextAreaElement} */ (make("textarea", { rows: "1", maxlength: "2000", "aria-label": `your remark at ${sign.place}` }));
  remark.value = letter.remarks[sign.place] || "";
  remark.addEventListener("change", () => {
    letter.remarks[sign.place] = remark.value;
    void keepLetter();
  });
  const box = /** @type {HTMLInputElement} */ (make("input", { type: "checkbox", checked: letter.decide.includes(sign.place), "aria-label": `${sign.place} is to be decided` }));
  box.addEventListener("change", () => {
    letter.decide = box.checked ? [...letter.decide, sign.place] : letter.decide.filter((place) => place !== sign.place);
    void keepLetter();
  });
  if (!mayChange) remark.disabled = box.disabled = true;
  return make("tr", {},
    make("th", { scope: "row", "data-name": "Bar, beat" }, make("a", { href: `/piece/${room.piece.id}/read#${encodeURIComponent(sign.place)}` }, `${sign.bar}, ${sign.beat}`)),
    make("td", { "data-name": "Printed" }, sign.printed), make("td", { "data-name": "As you have it" }, sign.now + (sign.doubtful ? " (doubtful)" : "")),
    make("td", { "data-name": "To decide" }, box), make("td", { "data-name": "Your remark" }, remark));
}

async function keepLetter() {
  try {
    await change(ofPiece("remarks"), letter);
  } catch (error) {
    tellLesson(`Not kept: ${wordsOf(error)}`);
  }
}

async function makePage() {
  try {
    await keepLetter();
    await change(ofPiece("work"), { kind: "page", letter: true, hide });
    await showWork();
  } catch (error) {
    tellLesson(wordsOf(error));
  }
}

/** @param {any} said */
function showAnswers(said) {
  const rows = said.rows.map((/** @type {any} */ row) =>
    make("tr", { class: row.alike ? "" : "apart" }, make("th", { scope: "row", "data-name": "Bar" }, make("a", { href: `/piece/${room.piece.id}/read#${encodeURIComponent(row.place)}` }, `bar ${row.bar}, ${row.kind}`)),
      make("td", { "data-name": said.name }, row.theirs), make("td", { "data-name": "You" }, row.mine), make("td", { "data-name": "" }, row.alike ? "alike" : "otherwise"), make("td", { "data-name": "Why" }, row.why)));
  byId("answers").replaceChildren(
    make("p", {}, `${said.name}: ${said.alike} of ${said.rows.length} as you have them.${said.blind.of ? ` Blind: ${said.blind.right} right of ${said.blind.of}.` : ""}${said.unknown ? ` ${said.unknown} of the answers have no place here.` : ""}`),
    make("table", {}, make("thead", {}, make("tr", {}, ...["Place", said.name, "You", "", "Why you have it so"].map((name) => make("th", { scope: "col" }, name)))), make("tbody", {}, ...rows)),
  );
}

lessonPage();
