"""Parse XML safely: no document type is allowed, so no entities that expand or refer to other files."""

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from typing import Protocol

import defusedxml
import defusedxml.ElementTree

from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN

MOST_TAGS = 2_000_000
"""Opening and closing tags of a text that is read into a tree, at some 100 bytes for each."""


class Target(Protocol):
    """Receives elements from the parser and keeps those it needs."""

    def start(self, tag: str, attrs: dict[str, str], /) -> object:
        """An element begins."""

    def end(self, tag: str, /) -> object:
        """An element ends."""

    def close(self) -> ET.Element:
        """The root element, after the end of the text."""


def root_of(data: bytes, what: str) -> ET.Element:
    """The root element of an XML text.

    Raises HullError for a document type declaration, which no mesh needs, for more than MOST_TAGS tags, and for XML
    that is not well formed.
    """
    tags = data.count(b"<")
    if tags > MOST_TAGS:
        msg = f"the {what} has {tags:,} tags, more than the {MOST_TAGS:,} that are read."
        raise HullError(msg, remedy="Export it as STL.")
    return read_into(ET.TreeBuilder(), iter((data,)), what)


def read_into(target: Target, pieces: Iterator[bytes], what: str) -> ET.Element:
    """The root element that `target` builds from an XML text given in pieces. Raises HullError as `root_of` does."""
    parser = defusedxml.ElementTree.XMLParser(target=target, forbid_dtd=True)
    try:
        for piece in pieces:
            parser.feed(piece)
        root: ET.Element = parser.close()
    except defusedxml.DefusedXmlException as fault:
        msg = f"the {what} has a document type declaration, through which it could reach for other files or grow."
        raise HullError(msg, remedy="Export it again, or take the <!DOCTYPE ...> out in a text editor.") from fault
    except (ET.ParseError, ValueError, LookupError) as fault:
        msg = f"the {what} is not well-formed XML ({fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault
    return root
