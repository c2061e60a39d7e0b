"""A score as bytes for the cache, and back.

The bytes are a pickle that may hold nothing but the model's own classes, fractions and plain containers: whatever else
turns up in the cache is refused and read as if it were not there.
"""

from __future__ import annotations

import io
import pickle

from appui.exact import Fraction
from appui.score.model import Score

__all__ = ["restored", "stored"]

_MODULES = ("appui.score.model", "appui.score.pitch")
_OTHERS = {(each.__module__, each.__name__) for each in (Fraction, frozenset)}


class _Unpickler(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> object:
        if (module in _MODULES and name.isidentifier()) or (module, name) in _OTHERS:
            return super().find_class(module, name)
        raise pickle.UnpicklingError(f"{module}.{name} is nothing a score is made of")


def stored(score: Score) -> bytes:
    """The score as bytes."""
    return pickle.dumps(score, protocol=pickle.HIGHEST_PROTOCOL)


def restored(data: bytes | None) -> Score | None:
    """The score of such bytes; `None` for none, and for bytes that are not whole or hold anything else."""
    if data is None:
        return None
    try:
        found = _Unpickler(io.BytesIO(data)).load()
    except (pickle.UnpicklingError, EOFError, AttributeError, ImportError, IndexError, KeyError, TypeError, ValueError):
        return None
    return found if isinstance(found, Score) else None
