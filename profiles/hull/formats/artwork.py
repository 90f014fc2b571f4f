"""The user's artwork, an SVG with its size in mm -> lines in mm. Nothing is ever loaded through it, and nothing run.

Paths, polylines, polygons, lines, rectangles, circles and ellipses count, with the transforms of the groups that they
stand in. Fills and colours are not kept: a marking is printed as outlines to mask, to cut or to paint in.
"""

import re
import xml.etree.ElementTree as ET

import numpy as np

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.formats.safe_xml import root_of
from profiles.hull.formats.section_drawing import (
    PLAIN_DOCTYPE,
    elements_of,
    local_name,
    path_data,
    piece_points,
    refuse_active,
    scale_of,
)
from profiles.values import dataclass

MOST_LINES = 2000
"""More is a picture that was traced, not a marking to mask and paint."""

MOST_POINTS = 200_000
"""Of all lines together."""

SAME = 1e-6
"""mm between the ends of a closed line."""

_PLAIN = "Turn text into paths, and save the artwork as plain SVG."
_SHAPES = {"path", "polyline", "polygon", "line", "rect", "circle", "ellipse"}


@dataclass(frozen=True, slots=True)
class Artwork:
    """Lines in mm, x to the right and y up, the middle of their extents at 0, 0."""

    lines: tuple[tuple[Floats, bool], ...]
    """Points (n, 2), and whether the line is closed; a closed one does not repeat its first point."""
    width: float
    height: float
    pictures: int
    """Pictures that were left out."""


def read_artwork(data: bytes) -> Artwork:
    """The lines of an SVG. Raises HullError for what is not safe, has no size in mm, or holds text."""
    root = root_of(PLAIN_DOCTYPE.sub(b"", data, count=1), "artwork")
    if local_name(root) != "svg":
        message = f"expected an SVG drawing, found XML that begins with {local_name(root)[:40]!r}."
        raise HullError(message, remedy="Save the artwork as SVG.")
    scale = scale_of(root)
    lines: list[tuple[Floats, bool]] = []
    pictures = 0
    for element, parents in elements_of(root, ()):
        refuse_active(element)
        kind = local_name(element)
        pictures += kind == "image"
        if kind in {"text", "tspan", "textPath"} and "".join(element.itertext()).strip():
            message = "the artwork holds text, whose font may not be here."
            raise HullError(message, remedy=_PLAIN)
        if kind in _SHAPES:
            lines += _lines_of(element, (*parents, element)[1:], scale)
        if len(lines) > MOST_LINES or sum(len(points) for points, _ in lines) > MOST_POINTS:
            message = f"the artwork has more than {MOST_LINES:,} lines or {MOST_POINTS:,} points."
            raise HullError(message, remedy="Simplify it.")
    if not lines:
        message = f"the artwork has no lines{' but pictures' * bool(pictures)}."
        raise HullError(message, remedy="Draw it with paths.")
    every = np.concatenate([points for points, _ in lines])
    low, high = every.min(axis=0), every.max(axis=0)
    if not (np.isfinite(every).all() and (high - low).max() > 0):
        message = "the artwork has no extent."
        raise HullError(message, remedy=_PLAIN)
    middle = (low + high) / 2
    width, height = (high - low).tolist()
    return Artwork(tuple((points - middle, closed) for points, closed in lines), width, height, pictures)


def _lines_of(element: ET.Element, holders: tuple[ET.Element, ...], scale: float) -> list[tuple[Floats, bool]]:
    """The subpaths of a shape in mm, y up. Raises HullError."""
    from svgelements import Path  # slow to import

    try:
        matrix = _matrix(holders)
        pieces = [piece for piece in Path(_data(element)) if piece.end is not None]
        parts: list[list[Floats]] = []
        for piece in pieces:
            if type(piece).__name__ == "Move" or not parts:
                parts.append([])
            if type(piece).__name__ != "Move":
                parts[-1].append(piece_points(piece, scale) * (1.0, -1.0))  # y down, as the transforms have it
    except (ValueError, TypeError, IndexError, AttributeError, ArithmeticError, KeyError):
        message = f"the shape {element.get('id', local_name(element))[:40]!r} cannot be read."
        raise HullError(message, remedy=_PLAIN) from None
    lines = []
    for part in parts:
        if not part:
            continue
        points = np.concatenate([part[0][:1], *(piece[1:] for piece in part)])
        points = (points @ matrix[:, :2].T + matrix[:, 2] * scale) * (1.0, -1.0)
        closed = len(points) > 3 and bool(np.hypot(*(points[0] - points[-1])) <= SAME)  # noqa: PLR2004 - a triangle
        lines.append((points[:-1] if closed else points, closed))
    return lines


def _matrix(holders: tuple[ET.Element, ...]) -> Floats:
    """The transforms of a shape and its groups, the outermost first, as (2, 3). Raises HullError or ValueError."""
    from svgelements import Matrix  # slow to import

    whole = np.eye(3)
    for holder in holders:
        if local_name(holder) == "svg" or re.search(r"transform\s*:", holder.get("style", "")):
            message = "the artwork holds a drawing inside the drawing, or a transform among its styles."
            raise HullError(message, remedy=_PLAIN)
        words = holder.get("transform")
        if words:
            m = Matrix(words)
            whole = whole @ np.array([[m.a, m.c, m.e], [m.b, m.d, m.f], [0.0, 0.0, 1.0]], dtype=np.float64)
    return np.asarray(whole[:2])


def _data(element: ET.Element) -> str:
    """A shape as path data (SVG 1.1, 9.2 to 9.4); rounded corners of a rectangle are drawn sharp."""
    kind = local_name(element)
    if kind == "rect":
        x, y, width, height = (float(element.get(key, "0")) for key in ("x", "y", "width", "height"))
        return f"M {x} {y} h {width} v {height} h {-width} Z"
    if kind in {"circle", "ellipse"}:
        x, y = float(element.get("cx", "0")), float(element.get("cy", "0"))
        rx, ry = (float(element.get(key, element.get("r", "0"))) for key in ("rx", "ry"))
        return f"M {x - rx} {y} a {rx} {ry} 0 1 0 {2 * rx} 0 a {rx} {ry} 0 1 0 {-2 * rx} 0 Z"
    return path_data(element)
