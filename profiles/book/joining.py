"""The chapter about a hull in parts: the parts drawn apart, the joints between them, and the order of gluing."""

import contextlib

import shapely
from shapely.affinity import translate

from profiles.book.contents import BookContents, PartRow
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, paragraph, rules
from profiles.book.scales import ratio_for, scale_words
from profiles.book.tables import TABLE_TEXT, TICK, Column, table_items
from profiles.errors import PaperError
from profiles.paper.drawing import Drawing, Label, Role
from profiles.paper.facesheet import outline_strokes
from profiles.paper.flow import Item, head
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.units import area_units, bare_area

JOINING = "Joining the parts"

PICTURE = 0.45
"""Largest share of the page's height for the parts drawn apart."""

HEAD, BETWEEN, EDGE = 6.0, 8.0, 2.0
"""mm above each view, between the two, and at the left and right."""

JOIN_RULES = (
    (
        "Glue and fair each part by itself first, all but a strip along its joints, so that both sides of a joint are "
        "faired together."
    ),
    (
        "Cut out both sheets of a joint and lay them on each other face to face: they must cover each other, hole on "
        "hole. Lay each on its own part, the name up, and mark the holes through it."
    ),
    (
        "Push pins or skewers into one side and try the joint dry. Where the sheet shows a circle of 6 mm, drill both "
        "sides for a dowel 30 mm deep, square to the joint, and glue it in."
    ),
    "Follow the order below: each part goes onto one that is there already. Let a joint set before the next loads it.",
)


def joining_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """How the parts go together; None where the hull is in one piece."""
    if not contents.parts:
        return None
    width, height = room.upright
    items = head(JOINING, width)
    with contextlib.suppress(PaperError):
        items += [drawing_item(apart_view(contents, (width, height * PICTURE))), Item(3.0)]
    items += rules("At a joint", JOIN_RULES, width)
    columns = [
        Column("step", "end"),
        Column("part"),
        Column("glued to"),
        Column("joint"),
        Column(f"area, {area_units()[0]}", "end"),
        Column("pins", "end"),
        Column("of them dowels", "end"),
        Column("sheets on page"),
        Column("done"),
    ]
    rows = [
        [
            str(step),
            row.part,
            row.onto,
            row.name,
            bare_area(row.area),
            str(row.pins),
            str(row.dowels),
            ", ".join(map(str, row.pages)),
            TICK,
        ]
        for step, row in enumerate(contents.joints, start=1)
    ]
    items += head("Order of gluing the parts", width)
    if rows:
        items += table_items(columns, rows, width)
    loose = [
        part.title for part in contents.parts[1:] if not any(part.title in (j.part, j.onto) for j in contents.joints)
    ]
    if loose:
        items += paragraph(f"No flat joint: {', '.join(loose)}. Glue where the bodies touch, by the drawing.", width)
    return Chapter(JOINING, (Leaf(tuple(items)),))


def apart_view(contents: BookContents, room: tuple[float, float]) -> Drawing:
    """The parts moved apart across their joints, from the side and from above, nose to the left, each with its name.

    Raises PaperError where the room is too small.
    """
    views = [[(part, _moved(part, view)) for part in contents.parts] for view in (0, 1)]
    bounds = [shapely.union_all([shape for _, shape in view]).bounds for view in views]
    across = max(box[2] - box[0] for box in bounds)
    depth = sum(box[3] - box[1] for box in bounds)
    names = max(text_width(part.title, TABLE_TEXT) for part in contents.parts) + EDGE
    ratio = ratio_for((across, depth), (room[0] - 2 * EDGE - names, room[1] - 2 * HEAD - BETWEEN), 1.0)
    strokes, labels, top = [], [], 0.0
    for title, view, box in zip(("from the side", "from above"), views, bounds, strict=True):
        text = f"{title}, parts drawn apart, {scale_words(ratio)}"
        labels.append(Label(text, EDGE, top + CAP_HEIGHT * TABLE_TEXT, TABLE_TEXT, bold=True))
        top += HEAD
        for part, shape in view:
            on_page = shapely.transform(shape, lambda p, box=box, top=top: (p - (box[0], box[1])) / ratio + (EDGE, top))
            polygons = shapely.MultiPolygon([p for p in shapely.get_parts(on_page) if p.geom_type == "Polygon"])
            strokes += outline_strokes(polygons, Role.LABEL)
            left, low, right, high = polygons.bounds
            if title == "from the side" or not part.apart[2]:
                labels.append(_named(part.title, (left, low, right, high)))
        top += (box[3] - box[1]) / ratio + BETWEEN
    return Drawing(room[0], top).with_more(strokes, labels)


def _named(title: str, box: tuple[float, float, float, float]) -> Label:
    """The name in the middle of a part, or beside one that is too small for it."""
    left, low, right, high = box
    middle = (low + high) / 2 + CAP_HEIGHT * TABLE_TEXT / 2
    if text_width(title, TABLE_TEXT) < right - left - EDGE and high - low > 2 * TABLE_TEXT:
        return Label(title, (left + right) / 2, middle, TABLE_TEXT, "middle")
    return Label(title, right + EDGE / 2, middle, TABLE_TEXT)


def _moved(part: PartRow, view: int) -> shapely.Geometry:
    """The silhouette from the side (0) or from above (1) with y down the page, moved apart from the part it joins."""
    x, y, z = part.apart
    shape = part.silhouettes[view]
    return translate(shape, x, (-z, y)[view])
