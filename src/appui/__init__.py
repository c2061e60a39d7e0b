"""appui: small notes and signs of 1700-1830, judged by the harmony, realized, heard."""

from __future__ import annotations

__all__ = ["__version__"]

__version__ = "0.1.0"
