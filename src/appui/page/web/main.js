// @ts-check
"use strict";
// The page set up.

function aboutWords() {
  const who = record.creators.length ? `${record.creators.join(", ")}. ` : "";
  const groups = { leaning: 0, before: 0, other: 0 };
  for (const sign of record.signs) groups[/** @type {"leaning"} */ (sign.readings[choices[record.signs.indexOf(sign)]].group)] += 1;
  const doubtful = record.signs.filter((sign) => sign.doubtful).length;
  const by = record.plan ? `your plan ${record.plan}, else the style ${record.style}` : `the style ${record.style}`;
  return (
    `${who}Solo: ${record.solo}. Played by ${by}: ${groups.leaning} leaning, ${groups.before} before the beat, ` +
    `${groups.other} others${doubtful ? `; ${doubtful} doubtful` : ""}. Press an ornament to see why and to hear it.`
  );
}

/** What is only for paper: each sign with its reason and its readings written out. */
function printedList() {
  return record.signs.map((sign, index) => {
    const readings = sign.readings.map((reading, number) =>
      make(
        "div",
        { class: "reading" },
        make("p", {}, reading.words + (choices[index] === number && !isHidden(index) ? ` (${whoseChoice(index)})` : "")),
        ...(reading.written ? [smallPicture(reading.written, reading.words)] : []),
      ),
    );
    const harmony = sign.harmony?.words ? `${sign.harmony.words}; ` : "";
    return make(
      "article",
      {},
      make("h3", {}, `${placeHead(sign)}: ${sign.printed}`),
      make("p", {}, make("strong", {}, verdictOf(index)), isHidden(index) ? "" : `; ${harmony}${sign.reason} [${sign.source}${sign.known ? `, ${sign.known}` : ""}]`),
      make("div", { class: "side-by-side" }, ...(sign.asPrinted ? [make("div", { class: "reading" }, make("p", {}, "as printed"), smallPicture(sign.asPrinted, "as printed"))] : []), ...readings),
    );
  });
}

function preparePrint() {
  printing = true;
  layOut();
  byId("written").replaceChildren(make("h2", {}, "The ornaments"), ...printedList());
  drawAll();
}

function afterPrint() {
  printing = false;
  byId("written").replaceChildren();
  layOut();
}

function start() {
  document.title = record.title;
  byId("about").textContent = record.signs.length ? aboutWords() : "This passage has no ornaments: it is played as it stands.";
  player.speed = record.tempos.length ? Math.max(...record.tempos.map((tempo) => tempo.factor)) : 1;
  if (!record.signs.length) byId("all").hidden = byId("plan").hidden = true;
  setUpLetter();
  layOut();
  showTable();
  setUpPlan();
  listeners.push((index) => {
    dress(byId("score"), index);
    showTable();
    if (index === opened && blind.sign < 0) showPanel();
  });
  player.listeners.push(dressSound);
  new ResizeObserver(() => layoutThatFits() !== layout && layOut()).observe(byId("score"));
  window.addEventListener("resize", () => opened >= 0 && showSign(opened, false));
  byId("score").addEventListener("click", pressScore);
  byId("score").addEventListener("keydown", keyOnScore);
  window.addEventListener("beforeprint", preparePrint);
  window.addEventListener("afterprint", afterPrint);
  document.addEventListener("keydown", (event) => event.key === "Escape" && opened >= 0 && closeSign());
  requestAnimationFrame(follow);
}

start();
