"""What the stand answers."""

import json
import time
from pathlib import Path
from typing import Any

import pytest

from appui.interpret.interpretation import interpret
from appui.interpret.wishes import Wishes
from appui.perform.perform import only
from appui.perform.play import play
from appui.sound.save import save
from appui.stand.letters import ANSWERS
from tests.stand.conftest import DEMO, Client


def test_every_room_has_its_document(owner: Client, piece: str) -> None:
    """With the data in it as JSON that no text of a score can leave."""
    for room in ("read", "stand", "practise", "embellish", "ear", "lesson"):
        answer = owner.get(f"/piece/{piece}/{room}")
        assert (200, "text/html; charset=utf-8") == (answer.status_code, answer.headers["content-type"])
        assert f'data-room="{room}"' in answer.text
    assert f"/piece/{piece}/read" == owner.get(f"/piece/{piece}").headers["location"]
    assert 404 == owner.get(f"/piece/{piece}/nothing").status_code
    assert 404 == owner.get("/piece/none/read").status_code


def test_text_of_a_score_is_never_markup(owner: Client, scores: Path) -> None:
    """A title full of tags stays text in every document."""
    text = DEMO.read_text(encoding="utf-8")
    evil = "</script><script>window.ran=1</script>&amp;".replace("<", "&lt;").replace(">", "&gt;")
    (scores / "evil.musicxml").write_text(text.replace("The Last Ferry", evil), encoding="utf-8")
    found = next(each for each in owner.get("/api/shelf").json()["pieces"] if each["file"] == "evil.musicxml")
    assert "<script>" in found["title"]
    for room in ("read", "practise", "lesson"):
        assert "<script>window" not in owner.get(f"/piece/{found['id']}/{room}").text


def test_the_record_says_what_is_decided_and_what_the_rule_has(owner: Client, piece: str) -> None:
    """After a decision both are there."""
    said = owner.post(f"/api/pieces/{piece}/decide", {"place": "oboe.4.1", "words": "before"}).json()
    assert ("before", "leaning 1/2") == (said["sign"]["now"], said["sign"]["rule"])
    assert {"before", "leaning 1/2"} <= {each["words"] for each in said["sign"]["readings"]}
    assert 1 == said["piece"]["decided"]
    record = owner.get(f"/api/pieces/{piece}/record").json()
    assert "before" == next(each for each in record["signs"] if each["place"] == "oboe.4.1")["now"]
    assert all(each["picture"]["main"] for each in record["signs"])


@pytest.mark.parametrize(
    "query",
    ["place=oboe.99.1", "place=oboe.4.1&words=trill", "place=oboe.4.1&tempo=fast", "place=oboe.4.1&pitch=9999",
     "place=oboe.4.1&tuning=../secret", "place=oboe.4.1&program=400", "place=oboe.4.1&around=99",
     "place=oboe.4.1&tempo=0%"],
)  # fmt: skip
def test_what_cannot_be_is_said_in_words(owner: Client, piece: str, query: str) -> None:
    """Never a crash, never silence."""
    answer = owner.get(f"/api/pieces/{piece}/ornament.wav?{query}")
    assert answer.status_code in (400, 404)
    assert answer.json()["error"]


@pytest.mark.parametrize(
    "body", [b"", b"[1]", b"{", b"\xff", b'{"place": 1}', b'{"place": "oboe.4.1", "words": 7}', b"[" * 100_000]
)
def test_bodies_that_are_nonsense_are_refused(owner: Client, piece: str, scores: Path, body: bytes) -> None:
    """Nothing is written for them."""
    for path in ("decide", "remarks", "embellish", "work", "answers", "settings"):
        answer = owner.post(f"/api/pieces/{piece}/{path}", content=body)
        assert answer.status_code in (400, 404), path
    assert not list(scores.glob("*-*"))


def test_too_much_at_once_is_refused(owner: Client) -> None:
    """A score of more than its limit is not read to its end."""
    answer = owner.post("/api/shelf?name=a.musicxml", content=(b"x" * 1_000_000 for _ in range(101)))
    assert (400, True) == (answer.status_code, "larger than 100 MB" in answer.json()["error"])


def test_an_embellishment_is_proposed_drawn_heard_and_kept(owner: Client, piece: str) -> None:
    """From the list of places to the plan, and away again."""
    at = f"/api/pieces/{piece}"
    places = owner.get(f"{at}/embellish").json()["places"]
    place = next(each["place"] for each in places)
    made = owner.get(f"{at}/proposals?place={place}").json()
    entry = made["proposals"][0]["entry"]
    drawn = owner.post(f"{at}/embellish/drawn", {"place": place, "entries": [entry]}).json()
    assert {entry, ""} == set(drawn["pictures"])
    assert 200 == owner.get(f"{at}/embellish.wav", params={"place": place, "entry": entry}).status_code
    assert 200 == owner.get(f"{at}/plain.wav", params={"place": place, "entry": entry}).status_code
    kept = owner.post(f"{at}/embellish", {"place": place, "entry": entry})
    assert 200 == kept.status_code
    assert owner.get(f"{at}/proposals?place={place}").json()["kept"]
    assert 200 == owner.post(f"{at}/embellish", {"place": place, "entry": None}).status_code
    assert not owner.get(f"{at}/proposals?place={place}").json()["kept"]


def test_an_edited_line_with_a_fault_says_which(owner: Client, piece: str) -> None:
    """In the words a plan's fault has."""
    at = f"/api/pieces/{piece}"
    place = owner.get(f"{at}/embellish").json()["places"][0]["place"]
    for entry in (
        '"x" = 1',
        "nonsense",
        f'"{place}" = {{ over = "1/4", notes = "H9:1/4" }}',
        f'"{place}" = {{ snippet = "/etc/passwd" }}',
    ):
        answer = owner.post(f"{at}/embellish", {"place": place, "entry": entry})
        assert 400 == answer.status_code
        assert "line" in answer.json()["error"] or place in answer.json()["error"]


def test_answers_of_a_pupil_lie_beside_ones_own(owner: Client, piece: str) -> None:
    """Disagreements first, with the reason."""
    record = owner.get(f"/api/pieces/{piece}/record").json()
    answers = {
        "format": ANSWERS, "version": 1, "score": record["sha256"], "name": "Nell",
        "choices": {"oboe.2.1": "before", "oboe.4.1": "before", "oboe.99.1": "short"},
        "blind": [{"place": "oboe.4.1", "right": True}, {"place": "oboe.4.1", "right": False}],
    }  # fmt: skip
    said = owner.post(f"/api/pieces/{piece}/answers", content=json.dumps(answers)).json()
    assert [("oboe.4.1", False), ("oboe.2.1", True)] == [(row["place"], row["alike"]) for row in said["rows"]]
    assert ("Nell", 1, {"right": 1, "of": 2}) == (said["name"], said["unknown"], said["blind"])
    answers["score"] = "other"
    refused = owner.post(f"/api/pieces/{piece}/answers", content=json.dumps(answers))
    assert "another score" in refused.json()["error"]


def test_remarks_are_kept_beside_the_score(owner: Client, piece: str, scores: Path) -> None:
    """At places there are, and nowhere else."""
    said = {"remarks": {"oboe.4.1": "listen to the cello", "oboe.99.1": "nowhere"}, "decide": ["oboe.4.1", "x"]}
    kept = owner.post(f"/api/pieces/{piece}/remarks", said).json()
    assert {"remarks": {"oboe.4.1": "listen to the cello"}, "decide": ["oboe.4.1"]} == kept
    assert "listen to the cello" in (scores / "ferry-remarks.json").read_text(encoding="utf-8")
    assert kept == owner.get(f"/api/pieces/{piece}/remarks").json()


def test_a_drill_begins_on_the_pieces_own_places(
    owner: Client, piece: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It sounds, takes an answer, says whether and why, and goes on."""
    monkeypatch.setattr("appui.drill.store.default_path", lambda: tmp_path / "drill.sqlite")
    said = owner.post("/api/ear", {"piece": piece, "kind": "lean-or-pass", "name": "Nell", "trials": 2}).json()
    assert "own places" in said["told"][0]
    sound = owner.get(f"/api/ear/{said['sitting']}/sound.wav?interval=0")
    assert sound.content.startswith(b"RIFF")
    first = owner.post(f"/api/ear/{said['sitting']}", {"given": 0}).json()
    assert first["why"]
    last = owner.post(f"/api/ear/{said['sitting']}", {"given": 1}).json()
    assert last["next"]["done"]
    assert ["Nell"] == owner.get("/api/ear").json()["players"]
    assert 400 == owner.post("/api/ear", {"piece": piece, "kind": "none"}).status_code


def test_a_take_is_told_beside_what_was_decided(owner: Client, piece: str, tmp_path: Path) -> None:
    """The demo's own solo, rendered, is heard as decided."""
    player = interpret(DEMO, Wishes(solo="oboe"))
    save(only(play(player, player.order("1-8")), solo=True), [tmp_path / "take.wav"], None)
    answer = owner.post(f"/api/pieces/{piece}/take?bars=1-8", content=(tmp_path / "take.wav").read_bytes())
    said = answer.json()
    assert said["rows"]
    assert "as decided" in said["summary"]
    assert 400 == owner.post(f"/api/pieces/{piece}/take?bars=1-8", content=b"no sound").status_code


def _until_done(owner: Client, number: int) -> Any:
    for _ in range(300):
        work = next(each for each in owner.get("/api/work").json()["work"] if each["number"] == number)
        if work["state"] not in ("waiting", "running"):
            return work
        time.sleep(0.1)
    raise AssertionError(work)


def test_a_track_is_made_with_the_commands_own_words(owner: Client, piece: str) -> None:
    """It is handed out when it is done, and not before; another can be stopped."""
    said = {"kind": "track", "bars": "1-2", "tempo": "100%", "times": 1, "suffix": "mid", "click": True}
    job = owner.post(f"/api/pieces/{piece}/work", said).json()
    assert 404 == owner.get("/api/work/99/file").status_code
    work = _until_done(owner, job["number"])
    assert ("done", "") == (work["state"], work["said"] if work["state"] == "failed" else "")
    assert owner.get(f"/api/work/{job['number']}/file").content.startswith(b"MThd")
    long = owner.post(f"/api/pieces/{piece}/work", {**said, "times": 200, "suffix": "flac", "tempo": "20%"}).json()
    assert "stopped" == owner.post(f"/api/work/{long['number']}/stop", {}).json()["state"]
    assert "stopped" == _until_done(owner, long["number"])["state"]


def test_no_word_of_a_request_becomes_an_option(owner: Client, piece: str) -> None:
    """What looks like one is refused, or taken as the value it stands for."""
    for said in ({"bars": "--soundfont=x"}, {"mode": "--help"}, {"suffix": "html"}, {"tempo": "1%;rm"}):
        answer = owner.post(f"/api/pieces/{piece}/work", {"kind": "track", **said})
        assert 400 == answer.status_code
    assert 400 == owner.post(f"/api/pieces/{piece}/work", {"kind": "anything"}).status_code


def test_too_many_presses_are_told(owner: Client, stand: Any, piece: str) -> None:
    """Who presses quicker than sound can be made is told to press again."""
    stand.waiting = 24
    answer = owner.get(f"/api/pieces/{piece}/ornament.wav?place=oboe.4.1")
    assert (400, "too many presses at once: press again") == (answer.status_code, answer.json()["error"])
