"""The cutting plan: a drawing of billets that are cut alike, its cuts in order, and the list of fence settings."""

from collections.abc import Sequence
from dataclasses import replace

import shapely

from profiles.book.billetparts import slice_views
from profiles.book.billetview import BLOCK, LEFT_OVER, REST, SIZES, BilletView, billet_view, ratios_for
from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BookContents
from profiles.book.cutlist import SAME, alike, billets_told, boards_told, cuts_told, mm, runs_of
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, paragraph, paragraphs, rows_of
from profiles.book.scales import RATIOS, scale_words
from profiles.book.tables import TICK, Column, halved, table_items
from profiles.errors import PaperError
from profiles.foam.cutting import Billet, Cut, CutPlan, FenceSetting, Grain, Stage
from profiles.foam.figures import numbers_told
from profiles.paper.drawing import Drawing, Label, Role, line, patch, rectangle
from profiles.paper.flow import Item, deal, head, kept, panel
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import hatching

CUTTING = "Cutting plan"
FENCES = "Fence list"

SHARE = 0.8
"""Of a page's height at most for the drawing of a billet: its head stands on the same page."""

SMALLER = 1.7
"""How much smaller than the largest drawing one may be, where that puts a billet and its cuts on one page."""

BESIDE = 84.0
"""mm; room that the table of cuts needs beside a drawing."""

BETWEEN = 6.0
"""mm between the two."""

STAGE_WORDS = {
    Stage.DOWN: "cut down: a board to the size that the layers of its billet share, before gluing",
    Stage.SQUARE: "square: a long edge and then a short one, along a straight edge",
    Stage.STRIP: "strip: along the billet, the squared long edge against the fence",
    Stage.ACROSS: "across: a strip to blanks, the squared end against the fence",
    Stage.TRIM: "trim: a blank to the block's size, the squared edge against the fence",
    Stage.SLICE: "slice: a blank to the block's thickness, flat, the lower face against the fence",
}
"""What the stages are, in the order in which they are made."""


def cutting(contents: BookContents, room: Room) -> Chapter | None:
    """How to cut, and a page for each drawing; None without a plan."""
    plan = contents.plan
    if plan is None or not plan.billets:
        return None
    width = room.upright[0]
    lead = [*head(CUTTING, width), *paragraphs(_lead(plan), width), Item(1.0), *caution_items(WHERE["cutting"], width)]
    leaves = [Leaf(tuple(lead))]
    leaves += [_billet_leaf(group, room) for group in alike(plan.billets)]
    return Chapter(CUTTING, tuple(leaves))


def _lead(plan: CutPlan) -> list[str]:
    settings = plan.settings
    stages = [stage for stage in Stage if any(one.stage is stage for one in plan.fences)]
    grain = {
        Grain.ANY: "The grain is free: a block may lie along the board or across it.",
        Grain.HEIGHT_ALONG: "Grain: the height of every block lies along the board's length.",
        Grain.WIDTH_ALONG: "Grain: the width of every block lies along the board's length.",
    }[settings.grain]
    return [
        (
            "Cuts are numbered through the whole plan, in the order in which each fence setting is made only once: all "
            "billets go through one stage before the next. Every cut goes from edge to edge of its piece. The fence "
            f"stands at the size that is kept; the wire takes {mm(settings.kerf)} mm beyond it. Squaring takes "
            f"{mm(settings.trim)} mm off two edges, with the kerf in it."
        ),
        "Stages: " + "; ".join(STAGE_WORDS[stage] for stage in stages) + ".",
        (
            "In the drawings the board's length lies across the page, and the corner that everything is measured "
            f"from is the upper left. {grain} Write the number on every block as it comes off the wire, and an arrow "
            "to the nose."
        ),
    ]


# One billet


def _billet_leaf(group: Sequence[Billet], room: Room) -> Leaf:
    """The way in which every number has its room, then the fewest pages, then the largest drawing, then upright."""
    tried = []
    for across, (width, height) in ((False, room.upright), (True, room.across)):
        try:
            ratios = ratios_for(group[0], (width, height * SHARE))
        except PaperError:
            continue
        tried += [(ratio, across, (width, height)) for ratio in ratios]
    if not tried:
        msg = f"expected a billet of at most {RATIOS[-1]:.0f} times the page, found {group[0].kind.length:.0f} mm"
        raise PaperError(msg, remedy="Take a larger paper for the book.")
    least = min(ratio for ratio, *_ in tried)
    found = []
    for ratio, across, size in sorted(tried):
        if ratio > SMALLER * least:
            break
        view = billet_view(group, ratio)
        items = tuple(_billet_items(view, size))
        pages = len(deal(items, size[1]))
        found.append((not view.is_clear, pages, ratio, across, items))
        if view.is_clear and pages == 1:  # those after it are no better, and smaller
            break
    *_, across, items = min(found, key=lambda one: one[:4])
    return Leaf(items, across)


def _billet_items(view: BilletView, room: tuple[float, float]) -> list[Item]:
    width, height = room
    items = [*head(_billet_title(view), width), *kept(paragraph(_billet_words(view), width))]
    items += _drawing_and_cuts(view, (width, height - sum(item.height for item in items)))
    slices = [sketch for billet in view.billets for sketch in slice_views(billet)]
    if slices:
        items += [*head("Slices, from the lower face up", width), *rows_of(slices, width)]
    return items


def _drawing_and_cuts(view: BilletView, room: tuple[float, float]) -> list[Item]:
    """The drawing with the table of its cuts: beside it, under it, or in two halves under it, whatever has room."""
    width, height = room
    drawing, legend = view.drawing, _legend(width)
    columns, rows = _cut_table(view)
    if not rows:
        return [drawing_item(drawing, keep=True), legend, *paragraph("No cut: the board is the block.", width)]
    left = width - drawing.width - BETWEEN
    if left >= BESIDE:
        table = panel(table_items(columns, rows, left), left)
        if table.height + legend.height <= height:
            right = table.moved(drawing.width + BETWEEN, 0.0)
            both = drawing.with_more(right.strokes, right.labels, right.areas)
            return [drawing_item(replace(both, height=max(drawing.height, table.height)), keep=True), legend]
    top = [drawing_item(drawing, keep=True), legend, Item(2.0)]
    table_room = height - sum(item.height for item in top)
    under = table_items(columns, rows, width)
    if sum(item.height for item in under) > table_room:
        under = halved(columns, rows, width, table_room) or under
    return [*top, *under]


def _billet_title(view: BilletView) -> str:
    name = billets_told(view.billets)
    return f"{name[0].upper()}{name[1:]}" + (f": make {len(view.billets)} of these" if len(view.billets) > 1 else "")


def _billet_words(view: BilletView) -> str:
    first = view.billets[0]
    kind = first.kind
    size = f"{mm(kind.length)} x {mm(kind.width)} x {mm(kind.thickness)} mm, {boards_told(first)}"
    told = f"{size}. Drawn {scale_words(view.ratio)}, from above."
    if len(view.billets) == 1:
        return told
    return (
        f"{told} Where several block numbers stand together they are those of {billets_told(view.billets)}, in that "
        f"order; cut numbers in the drawing are those of billet {first.number}."
    )


def _legend(width: float) -> Item:
    """What the colours and numbers of the drawing mean."""
    sheet = Drawing(width, 5.0)
    x = 0.0
    high = 3.0
    for word, colour in (("block", BLOCK), ("offcut to keep", LEFT_OVER), ("waste and trim", REST)):
        sheet = sheet.with_more(
            [rectangle(Role.LABEL, x, 1.0, 6.0, high)],
            [Label(word, x + 7.5, 1.0 + (high + CAP_HEIGHT * SIZES) / 2, SIZES)],
            [
                patch("legend", colour, x, 1.0, 6.0, high),
                *(hatching(shapely.box(x, 1.0, x + 6.0, 1.0 + high)) if colour == LEFT_OVER else []),
            ],
        )
        x += 7.5 + text_width(word, SIZES) + 6.0
    sheet = sheet.with_more(
        [line(Role.CUT, (x, 1.0 + high / 2), (x + 6.0, 1.0 + high / 2))],
        [
            Label(
                "cut; numbers beside the foam or in a frame are cuts",
                x + 7.5,
                1.0 + (high + CAP_HEIGHT * SIZES) / 2,
                SIZES,
            )
        ],
    )
    return drawing_item(sheet)


def _cut_table(view: BilletView) -> tuple[list[Column], list[list[str]]]:
    """Cuts made with one setting, in order; a column of numbers for each of the billets."""
    per_billet = [runs_of(billet) for billet in view.billets]
    several = len(per_billet) > 1
    heads = [f"billet {billet.number}" if several else "cuts" for billet in view.billets]
    columns = [
        *(Column(f"{word}, cuts" if several else word, wraps=True) for word in heads),
        Column("stage"),
        Column("fence", "end"),
        Column("where", wraps=True),
        Column("cuts each" if several else "how many", "end"),
        Column("done"),
    ]
    rows = []
    for runs in zip(*per_billet, strict=True):
        cut = runs[0].cuts[0]
        rows.append(
            [
                *(cuts_told(run.cuts) for run in runs),
                str(cut.stage),
                _fence(cut),
                runs[0].where,
                str(len(runs[0].cuts)),
                TICK,
            ]
        )
    return columns, rows


def _fence(cut: Cut | FenceSetting) -> str:
    return "none" if cut.stage is Stage.SQUARE else mm(cut.fence)


# Fences


def fences(contents: BookContents, room: Room) -> Chapter | None:
    """Each setting of the fence once, in order, with its cuts; None without a plan."""
    plan, width = contents.plan, room.upright[0]
    if plan is None or not plan.fences:
        return None
    columns = [
        Column("setting", "end"),
        Column("stage"),
        Column("fence", "end"),
        Column("cuts", "end"),
        Column("cut numbers", wraps=True),
        Column("billets", wraps=True),
        Column("done"),
    ]
    rows = [
        [
            str(number),
            str(setting.stage),
            _fence(setting),
            str(len(own)),
            cuts_told([cut for _, cut in own]),
            numbers_told(sorted({billet.number for billet, _ in own}), digits=1),
            TICK,
        ]
        for number, (setting, own) in enumerate(by_setting(plan), start=1)
    ]
    total = ["", "", "", str(sum(len(billet.cuts) for billet in plan.billets)), "all cuts", "", ""]
    lead = (
        "Set the fence once for each line, try it on scrap, measure the piece, and then make all cuts of that line. "
        "Fence distances in mm, from the wire's near side to the fence: the size of the piece that is kept."
    )
    items = [*head(FENCES, width), *paragraph(lead, width), *table_items(columns, rows, width, total=total), Item(2.0)]
    return Chapter(FENCES, (Leaf((*items, *caution_items(WHERE["fences"], width))),))


def by_setting(plan: CutPlan) -> list[tuple[FenceSetting, list[tuple[Billet, Cut]]]]:
    """Each setting with the cuts that are made with it, in order."""
    every = sorted(((billet, cut) for billet in plan.billets for cut in billet.cuts), key=lambda one: one[1].number)
    return [
        (
            setting,
            [
                (billet, cut)
                for billet, cut in every
                if cut.stage is setting.stage and abs(cut.fence - setting.fence) <= SAME
            ],
        )
        for setting in plan.fences
    ]
