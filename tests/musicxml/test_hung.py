"""Where slurs and tuplets of a voice begin and end when they are written."""

from appui.exact import Fraction
from appui.musicxml.write.build import children, new
from appui.musicxml.write.hung import hang_ornaments, hang_strokes, slur_ends, tuplet_ends
from appui.score.model import Event, Ornament

Q = Fraction


def note(at: int, *, on: bool = False, back: bool = False) -> Event:
    """A quarter note with the ends of slurs."""
    return Event(Q(at), Q(1), 0, (), "quarter", slur_on=on, slur_back=back)


def third(at: int, bar: int = 0) -> Event:
    """An eighth of a triplet."""
    return Event(Q(at, 3), Q(1, 3), bar, (), "eighth", tuplet=Q(2, 3))


def test_a_slur_has_two_ends() -> None:
    """Over three of four notes."""
    assert ({0}, {2}) == slur_ends([note(0, on=True), note(1, on=True, back=True), note(2, back=True), note(3)])


def test_a_slur_that_nothing_answers_is_not_written() -> None:
    """At the end of the voice, or where the next note has no end of it."""
    assert (set(), set()) == slur_ends([note(0, on=True), note(1)])
    assert (set(), set()) == slur_ends([note(0), note(1, on=True)])


def test_each_triplet_has_its_own_ends() -> None:
    """Six eighths in triplets are two groups."""
    assert ({0, 3}, {2, 5}) == tuplet_ends([third(at) for at in range(6)])


def test_a_triplet_ends_at_its_bar() -> None:
    """Two of three before the barline: what is left over is a group of its own."""
    assert ({0, 2}, {1, 2}) == tuplet_ends([third(0), third(1), third(2, bar=1)])


def test_ornaments_share_a_group_and_keep_their_marks() -> None:
    """A trill with a flat above it; the wave of a chord stands beside them."""
    node = new("note")
    hang_ornaments(node, [Ornament("trill-mark", above=-1), Ornament("arpeggiate")])
    (notations,) = children(node)
    assert ["ornaments", "arpeggiate"] == [child.tag for child in children(notations)]
    assert "flat" == notations.findtext("ornaments/accidental-mark")


def test_a_plain_fermata_has_no_text() -> None:
    """Another shape is named."""
    plain, square = new("note"), new("note")
    hang_strokes(plain, ["staccato"], fermata="normal")
    hang_strokes(square, [], fermata="square")
    assert plain.find("notations/articulations/staccato") is not None
    assert ("", "square") == (plain.findtext("notations/fermata"), square.findtext("notations/fermata"))
