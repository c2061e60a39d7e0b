// @ts-check
"use strict";
// Embellish: the places, what is proposed there as notes and sound, kept, edited as text with the errors shown there.

const wish = { how_much: "moderate", manner: "free", seed: 1, ...keptHere("embellish", {}) };
/** @type {any} */
let list = { places: [], leftAlone: [], leftCount: 0 };
let openPlace = "";
let tempoPercent = 100;

function embellishPage() {
  document.title = `Embellish: ${room.piece.title}`;
  const again = () => {
    keepHere("embellish", wish);
    void fetchPlaces();
  };
  byId("main").replaceChildren(
    make("h1", {}, room.piece.title),
    make("p", { class: "caption" }, "To leave it as printed is always one of the proposals. Your teacher, the edition and your ear decide."),
    make("p", { class: "row" },
      picker("How much", [["sparse", "sparse"], ["moderate", "moderate"], ["rich", "rich"]], wish.how_much, (value) => {
        wish.how_much = value;
        again();
      }),
      picker("Manner", [["free", "free"], ["methodical", "methodical"], ["da-capo", "da capo"], ["lament", "lament"]], wish.manner, (value) => {
        wish.manner = value;
        again();
      }),
      button("Other proposals", () => {
        wish.seed = (wish.seed % 9999) + 1;
        again();
      }),
      picker("Tempo", [["50", "50 %"], ["75", "75 %"], ["100", "100 %"]], "100", (value) => {
        tempoPercent = Number(value);
      }),
    ),
    make("p", { id: "embellish-said", role: "status" }, "Looking for places …"),
    make("div", { id: "places" }),
  );
  void fetchPlaces();
}

/** @param {string} words */
function tellEmbellish(words) {
  tellAt(byId("embellish-said"), words);
}

async function fetchPlaces() {
  tellEmbellish("Looking for places …");
  try {
    list = await ask(`${ofPiece("embellish")}?${query(wish)}`);
    const left = list.leftCount ? ` ${list.leftCount} others are left alone.` : "";
    tellEmbellish(list.places.length ? `${list.places.length} places.${left}` : `There is no place here to add anything.${left}`);
    showPlaces();
    if (openPlace) void openAt(openPlace);
  } catch (error) {
    tellEmbellish(wordsOf(error));
  }
}

/** @param {string} place */
function whereOf(place) {
  const [, bar, beat] = place.split(".");
  return `Bar ${bar}, beat ${beat}`;
}

function showPlaces() {
  byId("places").replaceChildren(
    ...list.places.map((/** @type {any} */ place) =>
      make("section", { class: "card", "data-place": place.place },
        make("h2", {}, button(`${whereOf(place.place)}: ${place.what}${place.kept ? ", yours" : ""}`, () => void openAt(place.place === openPlace ? "" : place.place), { "aria-expanded": String(place.place === openPlace) })),
        make("p", { class: "caption" }, `${place.why}${place.source ? ` (${place.source})` : ""}`),
        make("div", { class: "inside" }))),
  );
}

/** @param {string} place */
async function openAt(place) {
  openPlace = place;
  for (const card of document.querySelectorAll(".card")) {
    const on = card.getAttribute("data-place") === place;
    card.querySelector("button")?.setAttribute("aria-expanded", String(on));
    if (!on) card.querySelector(".inside")?.replaceChildren();
  }
  const inside = document.querySelector(`[data-place="${CSS.escape(place)}"] .inside`);
  if (!place || !inside) return;
  inside.replaceChildren(make("p", { role: "status" }, "Finding proposals …"));
  try {
    const said = await ask(`${ofPiece("proposals")}?${query({ ...wish, place })}`);
    if (openPlace !== place) return;
    showProposals(/** @type {HTMLElement} */ (inside), said);
  } catch (error) {
    inside.replaceChildren(make("p", { class: "fault" }, wordsOf(error)));
  }
}

/** @param {HTMLElement} inside @param {any} said */
function showProposals(inside, said) {
  const own = said.kept && !said.proposals.some((/** @type {any} */ each) => each.entry === said.kept) ? [{ words: "yours, as it is in the plan", entry: said.kept }] : [];
  const all = [...own, ...said.proposals];
  if (!all.length) return inside.replaceChildren(make("p", {}, said.none || "Nothing is proposed here."));
  const first = all[0].entry;
  const plain = make("div", { class: "proposal" }, make("p", { class: "row" }, hearButton("plain.wav", said.place, () => first, "as printed"), make("span", {}, "as printed"),
    ...(said.kept && mayChange ? [button("Play it as printed again", () => void keep(said.place, null))] : said.kept ? [] : [make("span", { class: "mine" }, "this is played now")])), make("div", { class: "printed-line" }));
  const rows = all.map((each) => proposalRow(said, each));
  inside.replaceChildren(plain, ...rows.map((row) => row.element));
  void drawProposals(inside, said.place, all, rows);
}

/** @param {string} what @param {string} place @param {() => string} entry @param {string} about */
function hearButton(what, place, entry, about) {
  const element = button("Play", async () => {
    if (element.textContent === "Stop") return stopHearing();
    stopHearing();
    try {
      const sound = await soundFrom(`${ofPiece(what)}?${query({ place, entry: entry(), tempo: `${tempoPercent}%`, v: room.piece.version })}`);
      setLevel("others", 1);
      setLevel("solo", 1);
      playRounds([sound]);
      element.textContent = "Stop";
      engine.ended = stopHearing;
    } catch (error) {
      tellEmbellish(wordsOf(error));
    }
  }, { class: "play", "aria-label": `Play ${about}` });
  return element;
}

function stopHearing() {
  stopRounds();
  for (const element of document.querySelectorAll("button.play")) element.textContent = "Play";
}

/** @param {any} said @param {any} each */
function proposalRow(said, each) {
  const text = /** @type {HTMLTextAreaElement} */ (make("textarea", { rows: "3", spellcheck: "false", "aria-label": `the notes of ${each.words}, as text` }));
  text.value = each.entry;
  const fault = make("p", { class: "fault", role: "status" });
  fault.hidden = true;
  const picture = make("div", { class: "drawn-line" });
  const row = { picture, text, element: make("div") };
  text.addEventListener("change", () => void redraw(said.place, row, fault));
  const kept = said.kept === each.entry;
  row.element = make("div", { class: "proposal" },
    make("p", { class: "row" }, hearButton("embellish.wav", said.place, () => text.value, each.words), make("span", {}, each.words),
      kept ? make("span", { class: "mine" }, "this is played now") : ""),
    picture,
    make("details", {}, make("summary", {}, "As text, to edit"), text, fault),
    ...(mayChange ? [make("p", { class: "row" }, button("Keep this", () => void keep(said.place, text.value, fault)))] : []),
  );
  return row;
}

/** @param {string} place @param {any} row @param {HTMLElement} fault */
async function redraw(place, row, fault) {
  try {
    const drawn = await change(ofPiece("embellish/drawn"), { place, entries: [row.text.value] });
    addShapes(drawn.shapes);
    row.picture.replaceChildren(smallLine(drawn.pictures[row.text.value]));
    fault.hidden = true;
  } catch (error) {
    fault.hidden = false;
    fault.textContent = wordsOf(error);
  }
}

/** @param {HTMLElement} inside @param {string} place @param {any[]} all @param {any[]} rows */
async function drawProposals(inside, place, all, rows) {
  if (!mayChange) return;
  const drawn = await change(ofPiece("embellish/drawn"), { place, entries: all.map((each) => each.entry) }).catch(() => null);
  if (!drawn || openPlace !== place) return;
  addShapes(drawn.shapes);
  all.forEach((each, number) => drawn.pictures[each.entry] && rows[number].picture.replaceChildren(smallLine(drawn.pictures[each.entry])));
  const printed = drawn.pictures[""];
  if (printed) inside.querySelector(".printed-line")?.replaceChildren(smallLine(printed));
}

/** @param {string} text */
function smallLine(text) {
  const picture = pictureOf(text);
  const box = (picture.getAttribute("viewBox") || "").split(" ");
  picture.setAttribute("style", `--units: ${box[2]}`);
  picture.setAttribute("role", "img");
  picture.setAttribute("aria-label", "in notes");
  const frame = make("div", { class: "small-system" });
  frame.append(picture);
  return frame;
}

/** @param {string} place @param {string | null} entry @param {HTMLElement} [fault] */
async function keep(place, entry, fault) {
  try {
    room.piece = await change(ofPiece("embellish"), { place, entry });
    await fetchPlaces();
    tellEmbellish(entry === null ? `${place} is played as printed; your line stays in the plan behind #.` : `Kept in ${room.piece.plan}.`);
  } catch (error) {
    if (fault) {
      fault.hidden = false;
      fault.textContent = wordsOf(error);
    } else tellEmbellish(wordsOf(error));
  }
}

embellishPage();
