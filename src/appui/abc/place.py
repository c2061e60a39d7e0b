"""Where in an ABC text something stands, and the error to raise there.

ABC is typed by hand, so an error names line and column and the sign that was probably meant.
"""

from __future__ import annotations

from dataclasses import dataclass

from appui.errors import ScoreError

__all__ = ["Cursor"]


@dataclass(slots=True)
class Cursor:
    """A line of music while it is read: `at` is the index of the next character, `line` counts from 1."""

    file: str
    line: int
    text: str
    at: int = 0
    #  columns of the file before the first character of `text`
    before: int = 0

    @property
    def done(self) -> bool:
        """Whether the line is read."""
        return self.at >= len(self.text)

    @property
    def sign(self) -> str:
        """The next character; empty at the end."""
        return self.text[self.at : self.at + 1]

    def starts(self, words: str | tuple[str, ...]) -> bool:
        """Whether what is left of the line begins so."""
        return self.text.startswith(words, self.at)

    def place(self, at: int | None = None) -> str:
        """``line 7, column 12``, of the next character or of one given by its index."""
        return f"line {self.line}, column {(self.at if at is None else at) + self.before + 1}"

    def error(self, problem: str, remedy: str, at: int | None = None) -> ScoreError:
        """The error to raise at the next character, or at one given by its index."""
        return ScoreError(self.file, problem, remedy, place=self.place(at))
