"""Flat panels -> templates with station lines, grain, seam allowance and matching marks; their figures and words."""

import math
from collections.abc import Sequence

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.drafting.panels import EXACT, FlatPanel, panel_area
from profiles.notes import Note, fact, warning
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing, Label, Role, Stroke, freeze, line
from profiles.paper.lettering import ASCENT, text_width
from profiles.paper.placing import Occupied, room_for
from profiles.paper.template import Template
from profiles.units import Figures, length_text, sizes_text

EDGE = 1.0
"""mm of sheet round a panel."""

TEXT, SMALL = 3.2, 2.2
"""mm; sizes of the words on a panel, and of matching marks."""

LEADING = 1.35
"""Line height in font sizes."""

INWARDS = 3.0
"""mm from the edge to the middle of a matching mark."""

ARROW = 30.0
"""mm; the longest arrow along the grain."""

WORTH_TELLING = 0.02
"""A panel that is strained by more does not lie on the body without wrinkles in sheet or film (common practice: sheet
balsa takes 1 to 2 % when it is wet)."""


def panel_templates(panels: Sequence[FlatPanel], stations: Sequence[float], heading: Heading) -> list[Template]:
    """A template for each flat panel. Raises JobError for one that overlaps itself.

    Equal matching marks belong together: a letter for the line that two panels share, and the number of the station.
    """
    letters: dict[str, str] = {}
    for panel in panels:
        for edge in panel.edges:
            letters.setdefault(edge.line, _letter(len(letters)))
    return [_template(panel, stations, letters, heading) for panel in panels]


def _letter(k: int) -> str:
    return chr(ord("A") + k) if k < 26 else f"{chr(ord('A') + k // 26 - 1)}{chr(ord('A') + k % 26)}"  # noqa: PLR2004


def _template(panel: FlatPanel, stations: Sequence[float], letters: dict[str, str], heading: Heading) -> Template:
    area = panel_area(panel)
    cut = area.buffer(panel.panel.seam, join_style="mitre", mitre_limit=2.0) if panel.panel.seam else area
    strokes = [_ring(Role.CUT, cut)]
    if panel.panel.seam:
        strokes.append(_ring(Role.LABEL, area))
    labels = []
    for number, x in enumerate(stations):
        if panel.x[0] + 1e-6 < x < panel.x[-1] - 1e-6:
            row = panel.row_at(x)
            strokes.append(Stroke(Role.LABEL, freeze(row)))
            labels += _marks(row, number, [letters[edge.line] for edge in panel.edges])
    more, words = _inside(panel, area, strokes, labels, heading)
    left, top, right, below = cut.bounds
    shift = EDGE - left, EDGE - top
    drawing = Drawing(right - left + 2 * EDGE, below - top + 2 * EDGE, (*strokes, *more), (*labels, *words))
    return Template(f"panel {panel.name}", drawing.translate(*shift), (float(shift[0]), float(shift[1])))


def _ring(role: Role, area: shapely.Polygon) -> Stroke:
    return Stroke(role, freeze(shapely.get_coordinates(area.exterior)[:-1]), closed=True)


def _marks(row: Floats, number: int, letters: Sequence[str]) -> list[Label]:
    """The marks at both ends of a station's line, where it is long enough."""
    if float(np.hypot(*(row[-1] - row[0]))) < 4 * INWARDS:
        return []
    labels = []
    for end, inner, letter in ((row[0], row[1], letters[0]), (row[-1], row[-2], letters[1])):
        way = (inner - end) / max(float(np.hypot(*(inner - end))), 1e-9)
        x, y = (end + INWARDS * way).tolist()
        labels.append(Label(f"{letter}{number}", x + 0.7, y + SMALL * ASCENT / 2, SMALL))
    return labels


def _inside(
    panel: FlatPanel, area: shapely.Polygon, strokes: Sequence[Stroke], labels: Sequence[Label], heading: Heading
) -> tuple[list[Stroke], list[Label]]:
    """The arrow along the grain and the words, where there is room for them."""
    left, top, right, below = area.bounds
    reach = min(ARROW, (right - left) / 3, (below - top) / 3)
    middle = area.representative_point()
    across = panel.panel.grain == "across"
    way = np.array((0.0, 1.0) if across else (1.0, 0.0)) * reach / 2
    arrow = _arrow(np.array((middle.x, middle.y)), way)
    occupied = Occupied([stroke.path for stroke in (*strokes, *arrow)])
    for label in labels:
        occupied.take(label.extent())
    texts = [panel.name, heading.fingerprint, heading.hull, "outside up", *_strain(panel), "arrow: grain"]
    for count in (len(texts), 3, 2, 1):  # the plan's fingerprint before all else
        for size in (TEXT, SMALL):
            lines = texts[:count]
            width = max(text_width(text, size, bold=True) for text in lines)
            place = room_for(area, width, count * LEADING * size, occupied, (middle.x, middle.y))
            if place:
                words = [
                    Label(text, place[0], place[1] + size * (ASCENT + LEADING * k), size, bold=k == 0)
                    for k, text in enumerate(lines)
                ]
                return arrow, words
    return arrow, []


def _arrow(middle: Floats, way: Floats) -> list[Stroke]:
    side = np.array((-way[1], way[0]))
    tip, end = middle + way, middle - way
    head = [tip - 0.2 * way + 0.1 * side, tip, tip - 0.2 * way - 0.1 * side]
    return [line(Role.LABEL, tuple(end), tuple(tip)), Stroke(Role.LABEL, freeze(head))]


def _strain(panel: FlatPanel) -> list[str]:
    if panel.developable:
        return ["lies flat"]
    return [f"stretch {100 * panel.stretch:.1f} %", f"squeeze {100 * panel.squeeze:.1f} %"]


def panel_figures(panel: FlatPanel) -> Figures:
    """A flat panel for the report."""
    area = panel_area(panel)
    left, top, right, below = area.bounds
    return {
        "name": panel.name,
        "side": panel.side,
        "x_fore": panel.x[0],
        "x_aft": panel.x[-1],
        "length": right - left,
        "breadth": below - top,
        "area": area.area,
        "area_on_body": panel.area_on_body,
        "developable": panel.developable,
        "stretch": panel.stretch,
        "squeeze": panel.squeeze,
        "edges": [{"line": edge.line, "on_body": edge.on_body, "flat": edge.flat} for edge in panel.edges],
        "cloth": cloth_figures(panel),
    }


def cloth_figures(panel: FlatPanel) -> Figures | None:
    """Widths of cloth that cover a panel, and the length of each with the overlap at both ends; None without cloth."""
    wanted = panel.panel
    if wanted.cloth is None:
        return None
    left, top, right, below = panel_area(panel).buffer(wanted.seam, join_style="mitre").bounds
    along, across = (right - left, below - top) if wanted.grain == "along" else (below - top, right - left)
    step = max(wanted.cloth - wanted.overlap, 0.1 * wanted.cloth)
    return {
        "widths": max(1, math.ceil((across - wanted.overlap) / step - 1e-9)),
        "width": wanted.cloth,
        "length": along + 2 * wanted.overlap,
        "overlap": wanted.overlap,
    }


def panel_notes(panels: Sequence[FlatPanel]) -> list[Note]:
    """What to know before cutting: panels that must stretch, and cloth."""
    notes = []
    for panel in panels:
        worst = max(panel.stretch, panel.squeeze)
        if worst > WORTH_TELLING:
            text = (
                f"the panel {panel.name} must be stretched by up to {100 * panel.stretch:.1f} % and squeezed by up to "
                f"{100 * panel.squeeze:.1f} % to lie on the body. Divide it with strips or split, or give it darts"
            )
            notes.append(warning(text))
        elif worst > EXACT:
            text = f"the panel {panel.name} is stretched by up to {100 * panel.stretch:.2f} % and squeezed by up to "
            notes.append(fact(f"{text}{100 * panel.squeeze:.2f} % on the body"))
        cloth = cloth_figures(panel)
        if cloth:
            width, long, over = (length_text(cloth[key], 0) for key in ("width", "length", "overlap"))
            text = f"the panel {panel.name} takes {cloth['widths']} x {width} of cloth, each {long} long"
            notes.append(fact(f"{text} with an overlap of {over}"))
    return notes


def panel_step(panels: Sequence[FlatPanel]) -> str:
    """What a builder does with the panels, for the book."""
    sizes = []
    for panel in panels:
        left, top, right, below = panel_area(panel).bounds
        sizes.append(f"{panel.name} ({sizes_text((right - left, below - top), 0)})")
    return (
        f"Skin: print panels.pdf, measure the bars, and cut the panels on the outer line: {', '.join(sizes)}. They "
        "are also on the cards. Try each dry on the sanded foam with its outside out: station lines lie over joints, "
        "and marks with equal letters and numbers meet. Cut away from your hand, with a sharp blade."
    )
