"""The demo: a slow movement invented for it, and its maker."""

from __future__ import annotations

__all__: list[str] = []
