"""The stage `cut_into`: a body -> the same body with rods and hollows in its blocks.

The outside is left alone: pairing, growth and deviation stay those of the hull. Faces lose what is cut out of them and
get its marks, holes and slits; every block keeps what is left of it as a solid.
"""

from collections import defaultdict
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from itertools import combinations
from typing import Any

import shapely

from profiles.blocks.blocks import Block, CutBlock
from profiles.blocks.body import Body
from profiles.blocks.bodyfile import solid_of
from profiles.blocks.cut_into import CutRow, Cuts, CutSheet
from profiles.blocks.outlines import pins_for
from profiles.cuts import hollow as hollows
from profiles.cuts import rods
from profiles.cuts.figures import (
    cut_figures,
    handmade_figures,
    hollow_rows,
    rod_row,
    sheet_figures,
    volume_notes,
)
from profiles.cuts.guides import drill_guides
from profiles.cuts.handmade import Handmade, handmade_of, is_in, shown_on
from profiles.cuts.hollow import Void
from profiles.cuts.rods import Line
from profiles.cuts.settings import CutSettings
from profiles.cuts.solids import TOUCH, between, crossing, cut_out, pieces_of
from profiles.cuts.stands import stand_sheets
from profiles.errors import JobError
from profiles.hull.surface import Mesh
from profiles.notes import Note, fact, warning
from profiles.setting import check_settings, reported_values
from profiles.units import length_text, number_runs

Solids = dict[str, dict[int, list[Mesh]]]
"""By name of the cut, by number of the block."""


def cut_into(body: Body, settings: CutSettings) -> Body:
    """The body with everything that is cut into it.

    Raises JobError for a rod that leaves the hull, or where none is found; for a wall that leaves no hollow; HullError
    where a section cannot be closed.

    >>> from profiles import CutSettings, Rod, StationSettings, cut, cut_into, plan, read
    >>> hull = read("models/skerrywing.stl")
    >>> body = cut(hull, plan(hull, StationSettings(thickness=58)))
    >>> with_rod = cut_into(body, CutSettings(rods=(Rod(diameter=6.0, start=(200, 0, 30), end=(400, 0, 30)),)))
    >>> [hole.words for hole in with_rod.blocks[5].fore.into.holes], with_rod.cuts.rows[0].kind
    (['rod 1 6'], 'rod')
    """
    if not settings.any:
        return body
    check_settings(*settings.hollow, *settings.rods, *settings.cutouts, *settings.bays, *settings.stands)
    _check_names(settings)
    notes: list[Note] = []
    solids: Solids = defaultdict(lambda: defaultdict(list))
    blocks = {block.span.number: block for block in body.blocks}
    voids = _hollow_all(body, settings, blocks, solids, notes)
    lines = _thread_all(body, settings, blocks, solids, notes)
    handmade = _cut_by_hand(body, settings, blocks, solids, notes)
    sheets, rows = _stands(body, settings)
    notes += _crossing_notes(solids, lines, voids.keys())
    made = []
    for block in blocks.values():
        here = {name: by_block[block.span.number] for name, by_block in solids.items() if block.span.number in by_block}
        made.append(_finish(block, here, body.settings.pin, notes))
    guides = [guide for line in lines for guide in drill_guides(line)]
    sheets = [*guides, *(sheet for cut in handmade for sheet in cut.sheets), *sheets]
    cuts = Cuts(
        definition=_definition(settings, handmade),
        rows=(
            *hollow_rows(settings, voids),
            *(rod_row(line, made) for line in lines),
            *(cut.row for cut in handmade),
            *rows,
        ),
        sheets=tuple(sheets),
        figures=cut_figures(body, made, settings, voids, lines)
        | handmade_figures(body, handmade, solids)
        | sheet_figures(sheets),
        notes=(*notes, *volume_notes(body, made, voids)),
    )
    return replace(body, blocks=tuple(made), cuts=cuts)


def _definition(settings: CutSettings, handmade: Sequence[Handmade]) -> dict[str, Any]:
    """What tells one set of cuts from another: settings, and the shapes that files gave."""
    parts = {name: getattr(settings, name) for name in ("hollow", "rods", "cutouts", "bays", "stands")}
    shapes = [round(shapely.get_coordinates(sheet.outline).sum(), 4) for cut in handmade for sheet in cut.sheets]
    return {name: [reported_values(item) for item in items] for name, items in parts.items()} | {"shapes": shapes}


def _cut_by_hand(
    body: Body, settings: CutSettings, blocks: dict[int, Block], solids: Solids, notes: list[Note]
) -> list[Handmade]:
    """Cut saddles, slots, tubes and bays out of the blocks. Raises JobError for one that takes no foam."""
    found = []
    first = body.blocks[0].span.number
    for cut in handmade_of(settings, body):
        takes, by_wire = 0.0, list[int]()
        for number, block in list(blocks.items()):
            if not is_in(block, cut):
                continue
            parts = between(cut.solids, block.span.x_fore, block.span.x_aft)
            whole = solid_of(block)
            shared = crossing([whole], parts) if whole is not None and parts else 0.0
            takes += shared
            if shared > TOUCH:
                solids[cut.name][number] += parts
            notch = _notch(cut, block, body.blocks[number - first], body)
            if notch is not None:
                blocks[number] = hollows.with_void(block, notch)
                by_wire.append(number)
                continue
            shown = [(face, shown_on(face, cut)) for face in block.faces]
            fore, aft = (
                replace(face, into=replace(face.into, by_hand=(*face.into.by_hand, mark))) if mark else face
                for face, mark in shown
            )
            blocks[number] = replace(block, fore=fore, aft=aft)
        if takes <= TOUCH:
            low, high = cut.reach
            message = f"{cut.name}, from x = {low:.1f} to {high:.1f} mm, lies outside the hull and cuts no foam"
            raise JobError(message, remedy="Move it into the hull.")
        notes += cut.notes
        found.append(cut.with_wire(by_wire))
    return found


def _notch(cut: Handmade, block: Block, solid: Block, body: Body) -> Void | None:
    """The notch that the wire cuts of a pocket in a block; None where it does not go through all of a solid one."""
    whole = isinstance(block, CutBlock) and block.fore.outline == solid.fore.outline
    if cut.notch is None or not whole or not isinstance(block, CutBlock):
        return None
    region, low, high = cut.notch
    if block.span.x_fore < low or block.span.x_aft > high:
        return None
    return hollows.notch_in(region, block, body.settings)


def _stands(body: Body, settings: CutSettings) -> tuple[list[CutSheet], list[CutRow]]:
    sheets: list[CutSheet] = []
    rows: list[CutRow] = []
    for n, stand in enumerate(settings.stands, 1):
        more, row = stand_sheets(stand, _name(stand, "stand", n), body)
        sheets += more
        rows += row
    return sheets, rows


def _name(item: Any, kind: str, number: int) -> str:  # noqa: ANN401 - any settings with a name
    return item.name or f"{kind} {number}"


def _check_names(settings: CutSettings) -> None:
    names = [_name(item, "hollow", n) for n, item in enumerate(settings.hollow, 1)]
    names += [_name(item, "rod", n) for n, item in enumerate(settings.rods, 1)]
    names += [_name(item, item.kind, n) for n, item in enumerate(settings.cutouts, 1)]
    names += [_name(item, "bay", n) for n, item in enumerate(settings.bays, 1)]
    names += [_name(item, "stand", n) for n, item in enumerate(settings.stands, 1)]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        message = f"two cuts are called {twice[0]!r}"
        raise JobError(message, remedy="Give each a name of its own, since templates carry it.")


def _hollow_all(
    body: Body, settings: CutSettings, blocks: dict[int, Block], solids: Solids, notes: list[Note]
) -> dict[str, list[Void]]:
    """Hollow the blocks; the hollows of each name."""
    found: dict[str, list[Void]] = {}
    taken: set[int] = set()
    for n, hollow in enumerate(settings.hollow, 1):
        name = _name(hollow, "hollow", n)
        voids, more = hollows.voids_of(hollow, name, body.hull.shape, list(blocks.values()), body.settings)
        if not voids:
            message = f"{name}: a wall of {length_text(hollow.wall)} leaves no room for a hollow in any block"
            raise JobError(message, remedy="Give a thinner wall, thinner blocks, or another place (from, to).")
        twice = sorted(taken & {void.block for void in voids})
        if twice:
            words = "block" if len(twice) == 1 else "blocks"
            verb = "is" if len(twice) == 1 else "are"
            message = f"{name}: {words} {number_runs(twice)} {verb} hollowed already"
            raise JobError(message, remedy="Let from and to of two hollows meet, but not overlap.")
        taken |= {void.block for void in voids}
        for void in voids:
            blocks[void.block] = hollows.with_void(blocks[void.block], void)
            solids[name][void.block].append(void.solid)
            notes += hollows.void_notes(void, hollow, name)
        notes += more
        found[name] = voids
    return found


def _thread_all(
    body: Body, settings: CutSettings, blocks: dict[int, Block], solids: Solids, notes: list[Note]
) -> list[Line]:
    """Put the rods through the blocks; their lines."""
    found: list[Line] = []
    for n, rod in enumerate(settings.rods, 1):
        lines, more = rods.lines_of(rod, n, body.hull.shape, body.blocks)
        notes += more
        for line in lines:
            for number, block in list(blocks.items()):
                meshes = rods.solid_in(line, block)
                if not meshes:
                    continue
                solids[line.name][number] += meshes
                blocks[number] = _with_holes(block, line)
                notes += rods.wall_notes(line, blocks[number], rod.clear / 2)
            notes += rods.end_notes(line, body.blocks)
        found += lines
    return found


def _with_holes(block: Block, line: Line) -> Block:
    """The block with the holes of a rod on its faces; none where the rod passes through a hollow."""
    faces = []
    for face in block.faces:
        hole = rods.hole_on(line, face)
        if hole is None or not face.has_template or not hole.outline.intersects(face.outline.foam):
            faces.append(face)
        else:
            faces.append(replace(face, into=replace(face.into, holes=(*face.into.holes, hole))))
    return replace(block, fore=faces[0], aft=faces[1])


def _finish(block: Block, solids: dict[str, list[Mesh]], pin: float, notes: list[Note]) -> Block:
    """The block with what is left of it, and with pins that no cut takes away; the solids by the name of their cut."""
    if not solids:
        return block
    about = f"block {block.span.number:02d}"
    whole = solid_of(block)
    meshes = [mesh for each in solids.values() for mesh in each]
    into = cut_out(whole, meshes) if whole is not None else None
    if into is None:
        text = "its solid is not closed, so built.stl and its volume show it without what is cut into it"
        notes.append(warning(text, block.span.x_fore, about))
    elif whole is not None and pieces_of(into.left) > pieces_of(whole):
        text = f"more than one piece is left by what is cut out ({', '.join(solids)}). Check that this is what you want"
        notes.append(warning(text, block.span.x_fore, about))
    if into is not None:
        block = replace(block, into=replace(into, names=tuple(solids)))
    return replace(block, pins=_pins_beside(block, pin, about, notes))


def _pins_beside(block: Block, pin: float, about: str, notes: list[Note]) -> tuple[Any, ...]:
    """The pins of a block, moved where a cut takes their place."""
    faces = [
        shapely.difference(face.outline.cut, shapely.union_all([hole.outline for hole in face.into.holes]))
        for face in block.faces
        if face.has_template
    ]
    rooms = [face.buffer(-pin / 2) for face in faces]
    if all(room.covers(shapely.Point(known.y, known.z)) for room in rooms for known in block.pins):
        return block.pins
    pins = pins_for(faces, pin)
    if not pins:
        text = "no room for two pin holes beside what is cut out. Align the templates by the box and the datum"
        notes.append(warning(text, block.span.x_fore, about))
    return pins


def _crossing_notes(solids: Solids, lines: Sequence[Line], hollows_by_name: AbstractSet[str]) -> list[Note]:
    """Cuts that cross each other. Raises JobError for two rods."""
    notes = []
    names = {line.name for line in lines}
    for one, other in combinations(solids, 2):
        shared = sorted(solids[one].keys() & solids[other].keys())
        here = [k for k in shared if crossing(solids[one][k], solids[other][k]) > TOUCH]
        if not here:
            continue
        text = f"{one} and {other} cross in block{'' if len(here) == 1 else 's'} {number_runs(here)}"
        if {one, other} <= names:
            raise JobError(text, remedy="Move one of the rods: they cannot both go through.")
        if {one, other} & names and {one, other} & hollows_by_name:
            rod, hollow = (one, other) if one in names else (other, one)
            through = f"{rod} runs through {hollow} in block{'' if len(here) == 1 else 's'} {number_runs(here)}"
            notes.append(fact(f"{through}, where only bulkheads and solid blocks hold it"))
            continue
        notes.append(warning(f"{text}. Check that this is what you want"))
    return notes
