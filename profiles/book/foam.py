"""Chapters about the foam: what to buy, how much adhesive, where the foam goes, and the layers of each billet."""

from itertools import pairwise

from profiles.book.billetparts import down_views, layers_view
from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BookContents
from profiles.book.cutlist import billet_word, billets_text, boards_text
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import paragraph, rows_of
from profiles.book.tables import TICK, Column, side_by_side, table_items
from profiles.foam.cutting import Billet, CutPlan
from profiles.foam.figures import boards_used, foam_volumes, glue_area, preference_rows
from profiles.foam.layers import Halved
from profiles.paper.flow import Item, head
from profiles.units import (
    PrintUnit,
    area_units,
    bare_area,
    bare_volume,
    decimal_length,
    length_text,
    number_runs,
    printed_unit,
    volume_unit,
)

FOAM = "What to buy"
LAYERS = "Layers"

VOLUME_LABELS = {
    "blocks": "blocks",
    "offcuts": "offcuts to keep",
    "kerf": "kerf",
    "trim": "trimmed off when squaring",
    "waste": "waste: pieces too small to keep",
}
"""What becomes of the boards, by the keys of `foam_volumes`."""


def foam_chapter(contents: BookContents, room: Room) -> Chapter:
    """Boards and their prices, the foam that is missing, adhesive, and where the foam goes."""
    width, plan = room.upright[0], contents.plan
    items = [*head(FOAM, width), *caution_items(WHERE["foam"], width)]
    if plan is None:
        items += paragraph(
            "The job names no foam, so no boards are planned. The block list shows what is needed.", width
        )
    else:
        items += [*_boards(plan, width), *_preferences(plan, width)]
        items += [*_lacking(plan, width), *_offcuts(plan, width)]
    items += _adhesive(contents, width)
    if plan is not None:
        items += _volumes(plan, width)
    return Chapter(FOAM, (Leaf(tuple(items)),))


def _boards(plan: CutPlan, width: float) -> list[Item]:
    uses = boards_used(plan)
    priced = any(use.price is not None for use in uses)
    columns = [
        Column("foam", wraps=True),
        Column("kind"),
        Column("length", "end"),
        Column("width", "end"),
        Column("thick", "end"),
        Column("take", "end"),
        Column("from"),
        *([Column("price, all", "end")] if priced else []),
        Column("done"),
    ]
    rows = []
    for use in uses:
        board = use.board
        source = "buy" if use.buy else "offcuts" if board.offcut else "at hand"
        price = ["" if use.price is None else f"{use.price:.2f}"] if priced else []
        sizes = [decimal_length(board.length), decimal_length(board.width), decimal_length(board.thickness)]
        rows.append([board.name, board.foam or "not named", *sizes, str(use.used), source, *price, TICK])
    if not rows:
        return paragraph("The plan uses no board.", width)
    total = None
    if priced:
        known = sum(use.price or 0.0 for use in uses)
        count = str(sum(use.used for use in uses))
        total = ["total", "", "", "", "", count, "", f"{known:.2f}", ""]
    remark = paragraph("Prices are those of the job, in its own currency.", width) if priced else []
    return [*table_items(columns, rows, width, total=total), Item(1.5), *remark]


def _preferences(plan: CutPlan, width: float) -> list[Item]:
    """What the plan was chosen by, in order."""
    rows = [[str(number), *row] for number, row in enumerate(preference_rows(plan), start=1)]
    columns = [Column("", "end"), Column("what counts, in this order"), Column("", "end"), Column("", wraps=True)]
    return [*head("Why this plan", width), *table_items(columns, rows, width), Item(1.5)]


def _lacking(plan: CutPlan, width: float) -> list[Item]:
    if not plan.shortages:
        return []
    rows = [[number_runs(shortage.blocks), shortage.reason, shortage.buy, TICK] for shortage in plan.shortages]
    columns = [Column("blocks", wraps=True), Column("why", wraps=True), Column("buy", wraps=True), Column("done")]
    return [*head("Blocks that the foam at hand does not yield", width), *table_items(columns, rows, width)]


def _offcuts(plan: CutPlan, width: float) -> list[Item]:
    """Offcuts to keep, the largest first."""
    offcuts = [(offcut.place.volume, billet, offcut) for billet in plan.billets for offcut in billet.offcuts]
    if not offcuts:
        return []
    offcuts.sort(key=lambda entry: (-entry[0], entry[1].number))
    rows = [
        [
            decimal_length(offcut.place.along),
            decimal_length(offcut.place.across),
            decimal_length(offcut.place.thick),
            billets_text([billet]) + ("" if offcut.layer is None else f", {billet.boards[offcut.layer].name}"),
        ]
        for _, billet, offcut in offcuts
    ]
    columns = [Column("length", "end"), Column("width", "end"), Column("thick", "end"), Column("from", wraps=True)]
    return [*head("Offcuts to keep", width), *side_by_side(columns, rows, width, most=2)]


def between_blocks(contents: BookContents) -> float:
    """Area of the joints between blocks, mm2: of each two faces that meet the smaller one."""
    return sum(min(fore.aft_area, aft.fore_area) for fore, aft in pairwise(contents.blocks))


def _adhesive(contents: BookContents, width: float) -> list[Item]:
    layers = glue_area(contents.plan) if contents.plan else 0.0
    joints = between_blocks(contents)
    parts = [("between layers of billets", layers), ("between blocks", joints), ("total", layers + joints)]
    rows = [[name, bare_area(area), bare_area(area, large=True)] for name, area in parts]
    columns = [Column("joints"), *(Column(unit, "end") for unit in area_units())]
    table = table_items(columns, rows[:-1], width, total=rows[-1])
    return [*head("Adhesive: area of the joints", width), *table, Item(1.5), *paragraph(_coverage(), width)]


def _coverage() -> str:
    can = "A 16 oz can gives light coats on 30 to 65 sq ft" if printed_unit() is PrintUnit.IN else COATS
    return (
        f"Spray both faces of a joint, that is, twice these areas. {can}. That is common practice, not a maker's "
        "figure: the label on the can comes first."
    )


COATS = "A 500 ml can gives light coats on 3 to 6 m2"


def _volumes(plan: CutPlan, width: float) -> list[Item]:
    volumes = foam_volumes(plan)
    boards = volumes["boards"]
    if boards <= 0:
        return []
    rows = [
        [label, bare_volume(volumes[key], 2), f"{100 * volumes[key] / boards:.1f}"]
        for key, label in VOLUME_LABELS.items()
    ]
    columns = [Column("foam"), Column(volume_unit(), "end"), Column("% of the boards", "end")]
    total = ["boards", bare_volume(boards, 2), "100.0"]
    return [*head("Where the foam goes", width), *table_items(columns, rows, width, total=total)]


def layers_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """Which boards make which billet, with a side view of each kind of glued billet; None if there is no plan."""
    plan, width = contents.plan, room.upright[0]
    if plan is None or not plan.billets:
        return None
    kinds = _kinds(plan)
    glued = any(billet.kind.glue_lines for billet in plan.billets)
    rows = [
        [
            number_runs([billet.number for billet in billets], digits=1),
            boards_text(billets[0]),
            *(
                decimal_length(size)
                for size in (billets[0].kind.length, billets[0].kind.width, billets[0].kind.thickness)
            ),
            decimal_length(billets[0].kind.actual_thickness),
            str(billets[0].kind.glue_lines),
            f"along {decimal_length(billets[0].kind.length)}",
        ]
        for billets in kinds
    ]
    columns = [
        Column(billet_word(plan.billets, many=True), wraps=True),
        Column("layers from the bottom" if glued else "name", wraps=True),
        Column("length", "end"),
        Column("width", "end"),
        Column("thick", "end"),
        Column("as measured", "end"),
        Column("glue lines", "end"),
        Column("grain"),
    ]
    items = [*head(LAYERS, width), *paragraph(_lead(plan, glued=glued), width)]
    items += caution_items(WHERE["layers"], width) if glued else []
    items += table_items(columns, rows, width)
    for billets in kinds:
        if billets[0].kind.glue_lines:
            name = billets_text(billets)
            items += head(f"{name[0].upper()}{name[1:]}: {boards_text(billets[0])}", width)
            downs = [view for billet in billets for view in down_views(billet)]
            items += rows_of([layers_view(billets[0]), *downs], width)
    return Chapter(LAYERS, (Leaf(tuple(items)),))


def _lead(plan: CutPlan, *, glued: bool) -> str:
    if not glued:
        return "No boards are glued together: every block comes from a single board."
    area = glue_area(plan)
    halves = any(billet.kind.halved is not Halved.NO for billet in plan.billets)
    turned = " Lay the halves of a board on each other without turning one, so that the grain runs one way."
    thick = f" A glue line counts as {length_text(plan.settings.glue)}." if plan.settings.glue else ""
    return (
        "Glue boards flat on each other before you cut blocks, so that the blocks come out square: "
        f"{bare_area(area)} {area_units()[0]} of joints in total.{thick} Align the boards at the corner that you "
        f"square first, grain along grain.{turned if halves else ''} Glue the whole area, and put weights on the "
        "billet on a flat table until the adhesive has set. Write its number on the billet."
    )


def _kinds(plan: CutPlan) -> list[tuple[Billet, ...]]:
    """Groups of billets made of the same boards, in the order of the first billet of each."""
    groups: dict[object, list[Billet]] = {}
    for billet in plan.billets:
        groups.setdefault((billet.kind, billet.boards), []).append(billet)
    return [tuple(group) for group in groups.values()]
