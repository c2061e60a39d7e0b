"""The figures by which proposals are measured against a table of plain and varied bars."""

import pytest

from appui.embellish.model import Wish
from tests.benchmarks.varied_pairs import bars_of, figures, report

HEAD = "piece,kind,mc_plain,timesig,bar_q,beat_q,tempo,qpm,speed,sim,key_plain,labels_plain,plain,varied,changed\n"
ROW = 'made,double,{0},3/4,3,1,Adagio,50,slow,1.0,C,0:I 2:V7,"0,1,72 1,1,76 2,1,74","{1}",1\n'
VARIED = "0,1/2,72 1/2,1/2,74 1,1/2,77 3/2,1/2,76 2,1/2,74 5/2,1/2,73"


@pytest.fixture(name="table")
def _table(tmp_path):
    path = tmp_path / "pairs.csv"
    path.write_text(HEAD + "".join(ROW.format(number, VARIED) for number in range(1, 6)))
    return path


def test_the_figures_are_counted_by_hand(table):
    """Six onsets over three quarters; C and D are kept on their beats, E only in its span; C sharp is chromatic."""
    found = figures((bar, bar.varied) for bar in bars_of(table))
    assert 2 == found["onsets a quarter"]
    assert pytest.approx(2 / 3) == found["kept on its beat"]
    assert 1 == found["kept in its span"]
    assert pytest.approx(1 / 6) == found["chromatic notes"]
    assert pytest.approx(2 / 3) == found["chord notes on beats"]
    assert 1 == found["values a bar"]


def test_the_report_sets_ours_beside_theirs(table):
    """One block for each speed and kind, every figure of it with its distance."""
    lines = list(report(bars_of(table), Wish(count=1)))
    assert lines[0].startswith("slow double: 5 bars, ")
    assert any((line.strip().startswith("onsets a quarter") and "inside" in line) or "off by" in line for line in lines)
