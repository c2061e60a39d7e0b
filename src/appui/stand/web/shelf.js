// @ts-check
"use strict";
// The shelf: the pieces one has, dropped in or found in folders, and what is undecided in each.

const SUFFIXES = ".musicxml,.xml,.mxl,.abc,.krn,.kern,.hum,.mei";

function shelfPage() {
  document.title = "The shelf";
  const input = /** @type {HTMLInputElement} */ (make("input", { type: "file", accept: SUFFIXES, multiple: true }));
  input.addEventListener("change", () => void takeFiles(input.files));
  const drop = make(
    "div",
    { class: "drop" },
    make("p", {}, "Drop a score here: MusicXML, MEI, ABC or Humdrum, with the solo and its accompaniment."),
    make("label", { class: "file" }, "Choose a file ", input),
  );
  drop.addEventListener("dragover", (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    void takeFiles(event.dataTransfer ? event.dataTransfer.files : null);
  });
  // a file that misses the field is not opened by the browser in place of the shelf
  for (const kind of ["dragover", "drop"]) window.addEventListener(kind, (event) => event.preventDefault());
  byId("main").replaceChildren(
    make("h1", {}, "The shelf"),
    ...(mayChange ? [drop] : []),
    make("p", { id: "shelf-said", role: "status" }),
    make("ul", { class: "pieces", id: "pieces" }),
    make("footer", {}, make("p", {}, "Start with the volume low. Rest before it hurts. Your teacher, the edition and your ear decide.")),
  );
  void showShelf();
}

/** @param {string} words */
function tellShelf(words) {
  tellAt(byId("shelf-said"), words);
}

/** @param {FileList | null} files */
async function takeFiles(files) {
  for (const file of files || []) {
    if (file.size > room.largest) {
      tellShelf(`${file.name} is larger than a score can be.`);
      continue;
    }
    tellShelf(`Reading ${file.name} …`);
    try {
      const piece = await change(`/api/shelf?${query({ name: file.name })}`, file);
      await showShelf();
      tellShelf(`${piece.title}: ${counted(piece.ornaments, "ornament")}${piece.first ? `; first, ${piece.first}` : ""}.`);
      /** @type {HTMLElement | null} */ (document.querySelector(`[data-piece="${piece.id}"] a`))?.focus();
    } catch (error) {
      tellShelf(`${file.name} cannot be taken: ${wordsOf(error)}`);
    }
  }
}

/** @param {number} count @param {string} what */
function counted(count, what) {
  return `${count} ${what}${count === 1 ? "" : "s"}`;
}

async function showShelf() {
  const said = await ask("/api/shelf").catch((error) => ({ pieces: [], fault: wordsOf(error) }));
  if (said.fault) return tellShelf(said.fault);
  const pieces = said.pieces;
  pieces.sort((/** @type {any} */ a, /** @type {any} */ b) => String(b.last?.moment || "").localeCompare(String(a.last?.moment || "")));
  byId("pieces").replaceChildren(...pieces.map(pieceRow));
  if (!pieces.length) byId("pieces").replaceChildren(make("li", {}, make("p", {}, "The shelf is empty.")));
}

/** @param {any} piece */
function pieceRow(piece) {
  if (piece.fault)
    return make("li", {}, make("h2", {}, piece.title), make("p", { class: "fault" }, piece.fault), awayButton(piece));
  const undecided = piece.doubtful ? `${counted(piece.doubtful, "doubtful ornament")} to decide` : "nothing doubtful is left";
  const place = piece.last ? `#${encodeURIComponent(piece.last.place)}` : "";
  const who = piece.creators.length ? `${piece.creators.join(", ")}. ` : "";
  return make(
    "li",
    { "data-piece": piece.id },
    make("h2", {}, make("a", { href: `/piece/${piece.id}/read${place}` }, piece.title)),
    make("p", {}, `${who}${piece.solo}, ${counted(piece.bars, "bar")}, ${counted(piece.ornaments, "ornament")}; ${piece.decided} decided, ${undecided}.`),
    make("p", { class: "caption" }, `${piece.file}${piece.last ? `; last at ${piece.last.place}` : ""}`),
    ...(piece.planFault ? [make("p", { class: "fault" }, piece.planFault)] : []),
    awayButton(piece),
  );
}

/** @param {any} piece */
function awayButton(piece) {
  if (!piece.own || !mayChange) return "";
  return make("div", { class: "does" }, button("Put away", async () => {
    try {
      const said = await change(`/api/pieces/${piece.id}/away`, {});
      await showShelf();
      tellShelf(said.said);
    } catch (error) {
      tellShelf(wordsOf(error));
    }
  }, { "aria-label": `Put away ${piece.title}` }));
}

shelfPage();
