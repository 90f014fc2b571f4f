"""Drawings as DXF (R2010, millimetres) for card cutters and lasers.

Layers: cut, score, text, pins. The head and tables of a file come from ezdxf, once for all files, with its fixed
metadata; entities are written here, because a document of its own for each template takes twenty times as long.
"""

import functools
import io

import numpy as np

from profiles.paper.drawing import ANCHORS, Drawing, Label, Role, Stroke

CUT, SCORE, TEXT, PINS = "cut", "score", "text", "pins"

LAYERS = {CUT: 7, SCORE: 5, TEXT: 8, PINS: 6}
"""Layer -> colour of the AutoCAD colour index."""

LAYER_OF = {Role.CUT: CUT, Role.PIN: PINS, Role.LABEL: TEXT}
"""All other roles are scored."""

LEFT_OUT = frozenset({Role.BAR, Role.TRIM, Role.JOIN})

FIRST_HANDLE = 0x10000
"""Above all handles of an empty document."""

DECIMALS = 7
"""Of coordinates, mm: areas keep more than nine digits."""


def drawing_dxf(drawing: Drawing) -> bytes:
    """The drawing as a DXF file, y upwards from the lower edge of its sheet; the same bytes for the same drawing."""
    head, tail, space = _skeleton()
    handles = (f"{FIRST_HANDLE + k:X}" for k in range(1 << 24))
    entities = [
        _polyline(stroke, drawing.height, space, handle)
        for stroke, handle in zip((s for s in drawing.strokes if s.role not in LEFT_OUT), handles, strict=False)
    ]
    entities += [_text(label, drawing.height, space, next(handles)) for label in drawing.labels]
    return f"{head}{''.join(entities)}{tail}".encode()


@functools.cache
def _skeleton() -> tuple[str, str, str]:
    """An empty document up to its entities, what comes after them, and the handle of the model space."""
    from ezdxf import units  # slow to import
    from ezdxf._options import options
    from ezdxf.filemanagement import new

    former = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document = new("R2010", units=units.MM)
        for name, colour in LAYERS.items():
            document.layers.add(name, color=colour)
        document.header["$HANDSEED"] = f"{FIRST_HANDLE << 8:X}"
        out = io.StringIO()
        document.write(out)
    finally:
        options.write_fixed_meta_data_for_testing = former
    text = _sort_classes(out.getvalue())
    begin = "  2\nENTITIES\n"
    head, tail = text.split(begin)
    return head + begin, tail, document.modelspace().layout_key


def _sort_classes(text: str) -> str:
    """The document with its classes by name: ezdxf writes them in the order of a set."""
    begin, end = "  2\nCLASSES\n", "  0\nENDSEC\n"
    head, rest = text.split(begin)
    classes, tail = rest.split(end, 1)
    mark = "  0\nCLASS\n"
    records = sorted(record for record in classes.split(mark) if record)
    return head + begin + "".join(mark + record for record in records) + end + tail


def _tags(*pairs: tuple[int, object]) -> str:
    return "".join(f"{code:3d}\n{value}\n" for code, value in pairs)


def _number(value: float) -> str:
    return f"{round(value, DECIMALS) + 0.0:.{DECIMALS}f}"


def _common(kind: str, layer: str, space: str, handle: str) -> str:
    return _tags((0, kind), (5, handle), (330, space), (100, "AcDbEntity"), (8, layer))


def _polyline(stroke: Stroke, height: float, space: str, handle: str) -> str:
    layer = LAYER_OF.get(stroke.role, SCORE)
    flat = np.round(np.column_stack([stroke.points[:, 0], height - stroke.points[:, 1]]), DECIMALS) + 0.0  # no -0
    head = _tags((100, "AcDbPolyline"), (90, len(flat)), (70, int(stroke.closed)))
    points = "".join([f" 10\n{x:.{DECIMALS}f}\n 20\n{y:.{DECIMALS}f}\n" for x, y in flat.tolist()])
    return f"{_common('LWPOLYLINE', layer, space, handle)}{head}{points}"


def _text(label: Label, height: float, space: str, handle: str) -> str:
    """A line of text; its height is that of its capitals, which DXF asks for."""
    x, y = _number(label.x), _number(height - label.y)
    size = label.size * 0.729  # em; the height of a capital letter of DejaVu Sans
    anchor = round(2 * ANCHORS[label.anchor])
    words = " ".join(label.text.split())
    first = _tags((100, "AcDbText"), (10, x), (20, y), (30, 0), (40, _number(size)), (1, _escape(words)))
    turn = _tags((50, _number(-label.angle)), (72, anchor))
    aligned = _tags((11, x), (21, y), (31, 0)) if anchor else ""
    common, last = _common("TEXT", TEXT, space, handle), _tags((100, "AcDbText"))
    return f"{common}{first}{turn}{aligned}{last}"


def _escape(text: str) -> str:
    """Characters outside ASCII as DXF writes them anywhere."""
    return "".join(c if " " <= c <= "~" else f"\\U+{ord(c):04X}" for c in text)
