"""The element of an XML tree, as readers and writers of scores have it: lxml's own type, under one name."""

from lxml.etree import _Element as Element

__all__ = ["Element"]
