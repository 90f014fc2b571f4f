"""XML that may be handed to a parser: no document type, so no entities that grow or reach for other files."""

import xml.etree.ElementTree as ET

import defusedxml
import defusedxml.ElementTree

from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN


def root_of(data: bytes, what: str) -> ET.Element:
    """The root element of an XML text.

    Raises HullError for a document type declaration, which no mesh needs, and for XML that is not well formed.
    """
    try:
        root: ET.Element = defusedxml.ElementTree.fromstring(data, forbid_dtd=True)
    except defusedxml.DefusedXmlException as fault:
        msg = f"the {what} has a document type declaration, through which it could reach for other files or grow."
        raise HullError(msg, remedy="Export it again, or take the <!DOCTYPE ...> out in a text editor.") from fault
    except (ET.ParseError, ValueError, LookupError) as fault:
        msg = f"the {what} is not well-formed XML ({fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault
    return root
