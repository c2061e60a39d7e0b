"""Small scores played, and the directions in them."""

from appui.interpret.analysis import Analysis
from appui.interpret.interpretation import interpret_analysis
from appui.interpret.wishes import Wishes
from appui.perform.play import play


def played(music, *, repeats=False, **wishes):
    """The notes of the one part, as performed."""
    interpretation = interpret_analysis(Analysis(music), Wishes(**wishes))
    interpretation.check()
    return play(interpretation, interpretation.order(None, repeats=repeats)).parts[0].notes


def dynamic(mark: str) -> str:
    """A dynamic mark."""
    return f"<direction><direction-type><dynamics><{mark}/></dynamics></direction-type></direction>"


def wedge(kind: str) -> str:
    """One end of a hairpin."""
    return f"<direction><direction-type><wedge type='{kind}'/></direction-type></direction>"
