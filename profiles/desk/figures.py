"""What a bench has made, as figures for the page: plain tables and lists. Lengths mm; volumes in litres."""

import re
from collections.abc import Sequence
from typing import Any

from shapely import MultiPolygon

from profiles.blocks.blocks import Block, CarvedBlock, CutBlock, Face
from profiles.blocks.body import Body
from profiles.blocks.bodyfile import placed_solid, volume_of
from profiles.comparing import Row
from profiles.desk.numbers import Packed, pack_mesh, plain
from profiles.foam.figures import boards_used, waste_share
from profiles.foam.supply import FoamPlan
from profiles.notes import Note, merge_notes
from profiles.options import NAMES
from profiles.pictures.tints import EVEN, EXTRA, MISSING, TintScale, scale_to
from profiles.units import LETTERED, Figures, block_name

PLACES = {option: {"part": part, "key": key} for (part, key), option in NAMES.items()}
"""An option of the command line -> the field of the page that says the same."""

CARVED_COLOUR = "#9aa0a6"
"""Carved blocks have no deviation to be coloured by."""

MM3_PER_LITRE = 1e6


def note_rows(notes: Sequence[Note]) -> list[Figures]:
    """Notes with the place, the block and the fields that override them."""
    return [
        {
            "kind": str(note.kind),
            "text": note.sentence,
            "x": None if note.x is None else plain(note.x),
            "block": _block_of(note),
            "fields": _fields_of(note.text),
        }
        for note in merge_notes(notes)
    ]


def _block_of(note: Note) -> int | None:
    number = re.match(r"(?:blocks? )?(\d+)", note.about)
    return int(number[1]) if number else None


def _fields_of(text: str) -> list[Figures]:
    words = dict.fromkeys(re.findall(r"--[a-z-]+", text))
    return [PLACES[word] for word in words if word in PLACES]


def body_figures(body: Body, foam: FoamPlan, notes: Sequence[Note], fingerprint: str | None) -> Figures:
    """A body as figures: blocks with their colours, and what it comes to."""
    blocks = body.cut_blocks
    largest = max((max(block.grown.deviation.missing, block.grown.deviation.extra) for block in blocks), default=0.0)
    scale = scale_to(largest)
    return {
        "fingerprint": fingerprint,
        "foam": plain(body.stations.foam),
        "stations": [plain(x) for x in body.stations.stations],
        "totals": _totals(body, foam),
        "scale": _scale_rows(scale),
        "blocks": [_block_row(block, scale) for block in body.blocks],
        "notes": note_rows(notes),
    }


def _totals(body: Body, foam: FoamPlan) -> Figures:
    carved = [block for block in body.blocks if isinstance(block, CarvedBlock)]
    carving = sum(block.tip.carving_volume for block in carved)
    carving += sum(block.grown.deviation.carved_volume for block in body.cut_blocks)
    return {
        "blocks": len(body.blocks),
        "odd": len(body.stations.odd_spans),
        "carved": len(carved),
        "sheets": None,
        "most_to_sand": plain(max((block.grown.sanding for block in body.cut_blocks), default=0.0)),
        "sanding_litres": _litres(sum(block.sanding_volume for block in body.cut_blocks)),
        "carving_litres": _litres(carving),
        "foam_litres": _litres(sum(_box_volume(block) for block in body.blocks)),
        "boards": [{"name": use.board.name, "count": use.used, "buy": use.buy} for use in boards_used(foam.cut)],
        "missing_blocks": [number for shortage in foam.cut.shortages for number in shortage.blocks],
        "to_buy": [shortage.buy for shortage in foam.cut.shortages],
        "waste_share": plain(waste_share(foam.cut)),
    }


def _box_volume(block: Block) -> float:
    return block.box.width * block.box.height * block.span.thickness


def _litres(volume: float) -> float:
    return plain(volume / MM3_PER_LITRE, 6)


def _scale_rows(scale: TintScale) -> list[Figures]:
    """The scale from missing to extra foam; deviation is negative where foam is missing."""
    first = scale.bounds[0]
    ups = list(zip(EXTRA, scale.bounds[:-1], scale.bounds[1:], strict=True))
    downs = list(zip(MISSING, scale.bounds[:-1], scale.bounds[1:], strict=True))
    rows = [
        {"from": -high, "to": -low, "colour": tint.colour, "words": f"{low:g} to {high:g} mm missing"}
        for tint, low, high in reversed(downs)
    ]
    rows.append({"from": -first, "to": first, "colour": EVEN.colour, "words": f"under {first:g} mm"})
    rows += [
        {"from": low, "to": high, "colour": tint.colour, "words": f"{low:g} to {high:g} mm to sand off"}
        for tint, low, high in ups
    ]
    rows.append({"from": None, "to": None, "colour": CARVED_COLOUR, "words": "carved"})
    return rows


def _block_row(block: Block, scale: TintScale) -> Figures:
    span = block.span
    grown = block.grown if isinstance(block, CutBlock) else None
    tint = scale.tint(grown.deviation.missing, grown.deviation.extra) if grown else None
    carving = block.tip.carving_volume if isinstance(block, CarvedBlock) else None
    if grown and grown.deviation.carved_volume:
        carving = grown.deviation.carved_volume
    left = volume_of(block)
    return {
        "number": span.number,
        "name": f"block {block_name(span.number)}",
        "x_fore": plain(span.x_fore),
        "x_aft": plain(span.x_aft),
        "thickness": plain(span.thickness),
        "full": span.full,
        "carved": isinstance(block, CarvedBlock),
        "colour": tint.colour if tint else CARVED_COLOUR,
        "sanding": plain(grown.sanding) if grown else None,
        "sanding_litres": _litres(block.sanding_volume) if isinstance(block, CutBlock) else None,
        "carving_litres": None if carving is None else _litres(carving),
        "missing": plain(grown.deviation.missing) if grown else None,
        "growth": plain(grown.offset) if grown else None,
        "height": plain(block.box.height),
        "width": plain(block.box.width),
        "foam_litres": _litres(_box_volume(block)),
        "left_litres": None if left is None else _litres(left),
        "hands_ratio": plain(block.hands.ratio, 2) if isinstance(block, CutBlock) else None,
        "pieces": max(len(face.outline.cut.geoms) for face in block.faces),
        "marks": len(block.fore.marks),
    }


def block_meshes(body: Body) -> list[Figures]:
    """The solid of each block that has one, as wire and knife leave it, in the frame of the hull."""
    places = body.places
    solids = ((block.span.number, placed_solid(block, places)) for block in body.blocks)
    return [{"number": number, "mesh": pack_mesh(*solid)} for number, solid in solids if solid is not None]


def block_templates(block: Block, body: Body) -> Figures:
    """Both faces of a block with outlines, marks and pins, and the profiles of a carved one. A block of a part has its
    own frame: a point p of it is at (p - offset) @ turn in the hull.
    """
    box, pin = block.box, body.settings.pin
    place = body.places.get(block.span.number // LETTERED)
    figures: Figures = {
        "number": block.span.number,
        "x_fore": plain(block.span.x_fore),
        "x_aft": plain(block.span.x_aft),
        "carved": isinstance(block, CarvedBlock),
        "place": place and {"turn": place[0].tolist(), "offset": place[1].tolist()},
        "box": {
            "y_low": plain(box.y_low),
            "z_low": plain(box.z_low),
            "height": plain(box.height),
            "width": plain(box.width),
        },
        "pins": [{"y": plain(hole.y), "z": plain(hole.z), "diameter": pin} for hole in block.pins],
        "faces": [_face(face) for face in block.faces],
        "profiles": [],
    }
    if isinstance(block, CarvedBlock):
        figures["profiles"] = [
            {"view": str(profile.view), "rings": _rings(profile.outline.cut)} for profile in block.tip.profiles
        ]
        figures["gauges"] = [
            {"number": gauge.number, "x": plain(gauge.x), "rings": _rings(gauge.outline.cut)}
            for gauge in block.tip.gauges
        ]
    return figures


def _face(face: Face) -> Figures:
    outline = face.outline
    kinds = {"cut": outline.cut, "foam": outline.foam, "finished": outline.finished}
    return {
        "which": str(face.which),
        "id": face.id,
        "x": plain(face.x),
        "outlines": [{"kind": kind, "rings": _rings(shape)} for kind, shape in kinds.items()],
        "marks": [
            {"number": mark.number, "y": plain(mark.y), "z": plain(mark.z), "kind": str(mark.kind)}
            for mark in face.marks
        ],
    }


def _rings(shape: MultiPolygon) -> list[list[list[float]]]:
    """All rings of a shape, outsides and hollows: to be filled by even and odd."""
    rings = [ring for part in shape.geoms for ring in (part.exterior, *part.interiors)]
    return [[[plain(one, 3), plain(other, 3)] for one, other in ring.coords] for ring in rings]


def deviation_series(blocks: Sequence[Block], stations: Sequence[float]) -> Figures:
    """Missing and extra foam along the hull; None in carved blocks."""
    x: list[float] = []
    missing: list[float | None] = []
    extra: list[float | None] = []
    for block in blocks:
        if not isinstance(block, CutBlock):
            x += [plain(block.span.x_fore), plain(block.span.x_aft)]
            missing += [None, None]
            extra += [None, None]
            continue
        for section in block.grown.deviation.along:
            x.append(plain(section.x))
            missing.append(plain(max(0.0, -section.lowest)))
            extra.append(plain(max(0.0, section.highest)))
    return {"x": x, "missing": missing, "extra": extra, "stations": [plain(place) for place in stations]}


def compare_row(row: Row) -> Figures:
    """One way to build the hull."""
    return {
        "label": row.label,
        "foam": plain(row.foam),
        "fit": row.fit,
        "blocks": row.blocks,
        "odd": row.odd,
        "carved": row.tips,
        "templates": row.templates,
        "sanding": plain(row.extra),
        "missing": plain(row.missing),
        "sanding_litres": _litres(row.sanding_volume),
        "carving_litres": _litres(row.carving_volume),
        "foam_litres": _litres(row.foam_volume),
        "boards": row.boards,
        "offcuts": row.offcuts,
        "waste": plain(row.waste),
        "more_blocks": row.more_blocks,
        "more_sanding": plain(row.more_extra),
        "fingerprint": row.fingerprint,
    }


def ghost(mesh: Any) -> Packed:  # noqa: ANN401 - vertices and faces
    """A mesh alone."""
    return {"mesh": pack_mesh(*mesh)}
