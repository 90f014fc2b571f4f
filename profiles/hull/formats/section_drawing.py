"""Sections drawn by hand or traced from a plan, as SVG in mm: a path for each station.

    <svg width="210mm" height="297mm" viewBox="0 0 210 297">      the size in mm, cm or in, and user units to match
      <path id="x120" d="..."/>          the section 120 mm along the hull; also x-120, s120, station 120.5
      <path data-x="120" d="..."/>       the same; and so does a group <g id="x120"> for what is drawn in it
      <line id="centre" .../>            the centre line; without it whole sections show where it is

Paths, polylines, polygons and lines count; whatever has no place is left out and counted. All sections stand in one
body plan: one centre line, one base. Nothing is ever loaded through a drawing: scripts and links are refused, pictures
under a tracing are left out.
"""

import itertools
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.formats.safe_xml import root_of
from profiles.units import MM_PER_IN
from profiles.values import dataclass

MM = {"mm": 1.0, "cm": 10.0, "in": MM_PER_IN}
"""Units in which a drawing may give its size: those that are lengths on paper."""

SQUARE = 1e-3
"""Relative difference of the scales across and up that is rounding."""

SPACING = 0.25
"""mm between points along a curve; in a bend of 10 mm radius the chords then leave out 0.0008 mm."""

MOST_POINTS = 20_000
"""Along one section: 5 m of outline."""

MOST_OF_PIECE = 2000
"""Along one curve of a path."""

CORNER = 20.0
"""Degrees; where a path turns by more from one piece to the next it has a corner. A circle drawn as 24 straight pieces
turns by 15."""

CLOSED = 1e-6
"""mm between the ends of a closed path."""

_SIZE = re.compile(r"\s*([-+]?[\d.]+(?:[eE][-+]?\d+)?)\s*([a-z%]*)\s*")
PLAIN_DOCTYPE = re.compile(rb"<!DOCTYPE\s+svg\s[^<>\[\]]*>")
"""What many programs write at the head of an SVG: it names a file of rules, which is not needed and never opened. One
that defines entities has brackets and is refused."""

_PLACE = re.compile(r"(?:x|s|station|section)?[ _-]*(-?\d+(?:\.\d+)?)(?:[ _-]?mm)?", re.IGNORECASE)
_CENTRES = {"centre", "center", "centreline", "centerline", "centre-line", "center-line"}
_AIDS = {"grid", "base", "help"}
"""Ids of what an empty drawing holds (`paper.lineforms`): lines to draw by, not counted as left out."""

_SHAPES = {"path", "polyline", "polygon", "line"}
_REMEDY = 'Give the drawing a size in mm, such as width="210mm" height="297mm" viewBox="0 0 210 297".'


@dataclass(frozen=True, slots=True)
class DrawnPath:
    """One outline as it is drawn."""

    name: str
    """For messages: the id of the path or its place."""
    x: float
    """mm along the hull."""
    points: Floats
    """(n, 2) mm: to the right and upwards; a closed path has its first point once more."""
    corners: Ints
    """(k,) numbers of points at which the path has a corner; the ends of an open path are corners, too."""
    closed: bool


@dataclass(frozen=True, slots=True)
class SectionDrawing:
    """All sections of a drawing, in mm."""

    paths: tuple[DrawnPath, ...]
    """In the order of their x."""
    centre: float | None
    """mm to the right: the centre line, where the drawing has one."""
    left_out: int
    """Shapes without a place."""
    pictures: int
    """Pictures that were not opened."""


def read_drawing(data: bytes) -> SectionDrawing:
    """The sections of an SVG drawing.

    Raises HullError for XML that is not safe, a drawing without a size in mm, scripts, links, transforms, and shapes
    that cannot be read.
    """
    root = root_of(PLAIN_DOCTYPE.sub(b"", data, count=1), "drawing")
    if local_name(root) != "svg":
        message = f"expected an SVG drawing, found XML that begins with {local_name(root)[:40]!r}."
        raise HullError(message, remedy="Save the drawing as SVG.")
    scale = scale_of(root)
    paths, centre, left_out, pictures = [], None, 0, 0
    for element, parents in elements_of(root, ()):
        refuse_active(element)
        kind = local_name(element)
        pictures += kind == "image"
        if kind not in _SHAPES or any(holder.get("id") in _AIDS for holder in (*parents, element)):
            continue
        word = element.get("id", "").strip()
        if word.lower() in _CENTRES:
            _refuse_transforms(word, (*parents, element))
            centre = _centre(_flatten(word, element, scale)[0])
            continue
        x = _place(element, parents)
        if x is None:
            left_out += 1
            continue
        name = word or f"x = {x:g}"
        _refuse_transforms(name, (*parents, element))
        points, corners = _flatten(name, element, scale)
        closed = bool(np.hypot(*(points[0] - points[-1])) <= CLOSED)
        paths.append(DrawnPath(name, x, points, corners, closed))
    paths.sort(key=lambda path: path.x)
    _check_places(paths, left_out)
    return SectionDrawing(tuple(paths), centre, left_out, pictures)


def local_name(element: ET.Element) -> str:
    """The name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]


def elements_of(
    element: ET.Element, parents: tuple[ET.Element, ...]
) -> Iterator[tuple[ET.Element, tuple[ET.Element, ...]]]:
    """All elements with those that they stand in, in their order; what is only defined for later use is not drawn."""
    waiting = [(element, parents)]
    while waiting:
        element, parents = waiting.pop()
        yield element, parents
        if local_name(element) not in {"defs", "clipPath", "mask", "pattern", "marker", "symbol"}:
            waiting += [(child, (*parents, element)) for child in reversed(element)]


def scale_of(root: ET.Element) -> float:
    """How many mm a unit of the drawing has. Raises HullError where the drawing does not say."""
    sizes = []
    for side in ("width", "height"):
        match = _SIZE.fullmatch(root.get(side, ""))
        if match is None or match[2] not in MM:
            words = root.get(side)
            message = f"the drawing has no {side} in mm" + (f", but {words[:20]!r}." if words else ".")
            raise HullError(message, remedy=_REMEDY)
        sizes.append(float(match[1]) * MM[match[2]])
    box = re.split(r"[\s,]+", root.get("viewBox", "").strip())
    try:
        _, _, wide, tall = map(float, box)
        scales = sizes[0] / wide, sizes[1] / tall
    except (ValueError, ZeroDivisionError):
        message = "the drawing has no viewBox that says how many of its units its width has."
        raise HullError(message, remedy=_REMEDY) from None
    if not (0 < scales[0] < 1e6 and abs(scales[0] - scales[1]) <= SQUARE * scales[0]):  # noqa: PLR2004 - or damaged
        message = f"a unit of the drawing is {scales[0]:g} mm across and {scales[1]:g} mm up."
        raise HullError(message, remedy="Both must be the same; correct width, height or viewBox.")
    return scales[0]


def refuse_active(element: ET.Element) -> None:
    """Raises HullError for scripts, and for links to anything but a picture beside the drawing."""
    kind = local_name(element)
    if kind == "script" or any(name.lower().startswith("on") for name in element.attrib):
        message = f"the drawing holds a script ({kind}), which is never run."
        raise HullError(message, remedy="Save it as plain SVG, or take the script out.")
    for name, link in element.attrib.items():
        if name.rpartition("}")[2] != "href":
            continue
        outside = not link.startswith(("#", "data:"))
        if kind in {"use", "a"} or (outside and (kind != "image" or ":" in link or link.startswith("//"))):
            message = f"the drawing holds a link ({kind}, {link[:40]!r}), which is never opened."
            raise HullError(message, remedy="Draw the section itself as a path, or take the link out.")


def _refuse_transforms(name: str, elements: tuple[ET.Element, ...]) -> None:
    """Raises HullError where an outline, or a group that it stands in, is moved, turned or scaled."""
    for element in elements:
        styled = re.search(r"transform\s*:\s*([^;]*)", element.get("style", ""))
        words = element.get("transform") or (styled[1] if styled else "")
        inner = local_name(element) == "svg" and element is not elements[0]
        if inner or (words.strip() and not _is_identity(words)):
            what = "a drawing inside the drawing" if inner else f"transform {words[:40]!r}"
            message = f"{name} stands in {what}; its place on the paper is not its place in the file."
            raise HullError(message, remedy="Ungroup it, or let the drawing program apply the transform to the path.")


def _is_identity(words: str) -> bool:
    from svgelements import Matrix

    try:
        return bool(Matrix(words).is_identity())
    except (ValueError, TypeError, IndexError):
        return False


def _place(element: ET.Element, parents: tuple[ET.Element, ...]) -> float | None:
    """The place of an outline in mm, by itself or by the nearest group that has one.

    Raises HullError for text in data-x.
    """
    for holder in (element, *reversed(parents)):
        given = holder.get("data-x")
        match = _PLACE.fullmatch((holder.get("id", "") if given is None else given).strip())
        if match is not None:
            return float(match[1])
        if given is not None:
            message = f'expected a place in mm such as data-x="120", found {given[:40]!r}.'
            raise HullError(message, remedy="Give the distance of the section along the hull.")
    return None


def _flatten(name: str, element: ET.Element, scale: float) -> tuple[Floats, Ints]:
    """Points (n, 2) mm of an outline, upwards positive, and the numbers of its corners. Raises HullError."""
    from svgelements import Path

    try:
        pieces = [piece for piece in Path(path_data(element)) if piece.end is not None]
        parts = [piece_points(piece, scale) for piece in pieces if type(piece).__name__ != "Move"]
        moves = [type(piece).__name__ == "Move" for piece in pieces]
    except (ValueError, TypeError, IndexError, AttributeError, ArithmeticError, KeyError):
        message = f"the outline {name} is not a path that can be read: {path_data(element)[:40]!r}."
        raise HullError(message, remedy="Draw it again, or save the drawing as plain SVG.") from None
    if any(moves[1:]):
        message = f"the outline {name} has {sum(moves)} pieces."
        raise HullError(message, remedy="Join them to one path, or draw what is inside elsewhere.")
    parts = [part for part in parts if len(part) and np.ptp(part, axis=0).max() > 0]
    points = np.concatenate([parts[0][:1], *(part[1:] for part in parts)]) if parts else np.zeros((0, 2))
    if len(points) < 2 or not np.isfinite(points).all() or len(points) > MOST_POINTS:  # noqa: PLR2004 - an outline
        message = f"the outline {name} has {len(points)} points that can be used."
        raise HullError(message, remedy=f"A section is a path of 2 to {MOST_POINTS:,} points in mm.")
    return points, _find_corners(points, np.cumsum([0, *(len(part) - 1 for part in parts)]))


def _find_corners(points: Floats, joints: Ints) -> Ints:
    """Numbers of the joints (k,), ends included, at which an outline turns by more than CORNER."""
    if np.hypot(*(points[0] - points[-1])) > CLOSED:
        inner = joints[1:-1]
        before, behind = points[inner] - points[inner - 1], points[inner + 1] - points[inner]
    else:
        inner = joints[:-1]
        before, behind = points[inner] - points[np.where(inner, inner - 1, -2)], points[inner + 1] - points[inner]
    cross = before[:, 0] * behind[:, 1] - before[:, 1] * behind[:, 0]
    turn = np.degrees(np.abs(np.arctan2(cross, (before * behind).sum(axis=1))))
    ends = joints[[0, -1]] if len(inner) == len(joints) - 2 else joints[:0]
    return np.union1d(inner[turn > CORNER], ends)


def path_data(element: ET.Element) -> str:
    """A path, line, polyline or polygon as path data."""
    kind = local_name(element)
    if kind == "path":
        return element.get("d", "")
    if kind == "line":
        x1, y1, x2, y2 = (element.get(name, "0") for name in ("x1", "y1", "x2", "y2"))
        return f"M {x1} {y1} L {x2} {y2}"
    return f"M {element.get('points', '')}{' Z' * (kind == 'polygon')}"


def piece_points(piece: object, scale: float) -> Floats:
    """(n, 2) mm: one piece of a path, both ends included; straight pieces have no more."""
    from svgelements import Close, Line

    if isinstance(piece, Line | Close):
        places = np.array([(piece.start.x, piece.start.y), (piece.end.x, piece.end.y)])
    else:
        size = float(piece.length(error=1e-3)) * scale  # type: ignore[attr-defined]
        number = int(np.clip(np.ceil(size / SPACING), 8, MOST_OF_PIECE))
        places = np.asarray(piece.npoint(np.linspace(0.0, 1.0, number + 1)), dtype=float)  # type: ignore[attr-defined]
    return places * (scale, -scale)


def _centre(points: Floats) -> float:
    """Where it is, mm to the right. Raises HullError for a centre line that leans."""
    if np.ptp(points[:, 0]) > 0.1:  # noqa: PLR2004 - mm, the breadth of a line
        message = f"the centre line leans by {np.ptp(points[:, 0]):.1f} mm."
        raise HullError(message, remedy="Draw it upright.")
    return float(points[:, 0].mean())


def _check_places(paths: list[DrawnPath], left_out: int) -> None:
    """Raises HullError for fewer than two sections, and for two at one place."""
    if len(paths) < 2:  # noqa: PLR2004 - a body lies between two
        rest = f", and {left_out} shapes without a place" if left_out else ""
        message = f"expected sections at two stations or more, found {len(paths)}{rest}."
        raise HullError(message, remedy='Give each path its place in mm: id="x120" or data-x="120".')
    for one, other in itertools.pairwise(paths):
        if other.x - one.x < 1e-3:  # noqa: PLR2004 - mm
            message = f"two outlines, {one.name} and {other.name}, are at x = {one.x:g} mm."
            raise HullError(message, remedy="Each station has one; join the pieces or take one out.")
