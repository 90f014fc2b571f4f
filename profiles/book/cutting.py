"""The cutting plan: a drawing for each group of billets cut alike, its cuts, and the list of fence settings."""

from collections.abc import Sequence
from dataclasses import replace

import shapely

from profiles.book.billetmap import BLOCK, LEFTOVER, REST, SIZES
from profiles.book.billetparts import slice_views
from profiles.book.billetview import BilletView, billet_view, ratios_for
from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BookContents
from profiles.book.cutlist import billet_word, billets_text, boards_text, cuts_text, group_alike, runs_of
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, paragraph, paragraphs, rows_of
from profiles.book.scales import RATIOS, scale_words
from profiles.book.tables import TICK, Column, in_halves, table_items
from profiles.errors import PaperError
from profiles.foam.cutting import Billet, Cut, CutPlan, FenceSetting, Grain, Stage
from profiles.foam.figures import cuts_by_fence
from profiles.paper.drawing import Drawing, Label, Role, line, patch, rectangle
from profiles.paper.flow import Item, deal, head, keep_together, panel
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import hatching
from profiles.units import length_text, number_runs, rule_length, sizes_text

CUTTING = "Cutting plan"
FENCES = "Fence list"

SHARE = 0.8
"""Largest share of a page's height for the drawing of a billet: its heading is on the same page."""

SMALLER = 1.7
"""A drawing may be this many times smaller than the largest one if that puts a billet and its cuts on one page."""

BESIDE = 84.0
"""mm; least width for the table of cuts beside a drawing."""

BETWEEN = 6.0
"""mm between a drawing and the table beside it."""

CUT_WORDS = "cut; numbers beside it or in a frame are cut numbers"

STAGE_WORDS = {
    Stage.DOWN: "cut down: a board to the size that the layers of its billet share, or in two halves, before gluing",
    Stage.SQUARE: "square: a long edge and then a short one, along a straight edge",
    Stage.STRIP: "strip: along the {word}, with the squared long edge against the fence",
    Stage.ACROSS: "across: a strip into blanks, with the squared end against the fence",
    Stage.TRIM: "trim: a blank to the block's size, with the squared edge against the fence",
    Stage.SLICE: "slice: a blank to the block's thickness, with its lower face against the fence",
}
"""What the stages are, in the order in which the cuts are made."""


def cutting_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """How to cut, and a page for each drawing; None if there is no plan. Raises PaperError if one does not fit."""
    plan = contents.plan
    if plan is None or not plan.billets:
        return None
    width = room.upright[0]
    lead = [*head(CUTTING, width), *paragraphs(_lead(plan), width), Item(1.0), *caution_items(WHERE["cutting"], width)]
    leaves = [Leaf(tuple(lead))]
    leaves += [_billet_leaf(group, room) for group in group_alike(plan.billets)]
    return Chapter(CUTTING, tuple(leaves))


def _lead(plan: CutPlan) -> list[str]:
    settings = plan.settings
    word, words = billet_word(plan.billets), billet_word(plan.billets, many=True)
    stages = [stage for stage in Stage if any(setting.stage is stage for setting in plan.fences)]
    grain = {
        Grain.ANY: "A block may lie along the grain or across it.",
        Grain.HEIGHT_ALONG: "The height of every block lies along the grain.",
        Grain.WIDTH_ALONG: "The width of every block lies along the grain.",
    }[settings.grain]
    return [
        (
            "Cuts are numbered through the whole plan, in an order that sets the fence only once for each size: all "
            f"{words} go through one stage before the next. Every cut goes from edge to edge of its piece. Set the "
            f"fence to the size that you keep; the wire melts {length_text(settings.effective_kerf)} beyond it. "
            f"Squaring takes {length_text(settings.trim)} off two edges, kerf included."
        ),
        "Stages: " + "; ".join(STAGE_WORDS[stage].format(word=word) for stage in stages) + ".",
        (
            "In the drawings the grain, along which the board was made and which is its length, runs from left to "
            f"right, and everything is measured from the upper left corner. {grain} Write its number on every block as "
            "it comes off the wire, and an arrow to the nose."
        ),
    ]


# One billet


def _billet_leaf(group: Sequence[Billet], room: Room) -> Leaf:
    """Lay out one drawing: first so that every number has room, then on the fewest pages, then at the largest scale,
    then upright.
    """
    choices = []
    for across, (width, height) in ((False, room.upright), (True, room.across)):
        try:
            ratios = ratios_for(group[0], (width, height * SHARE))
        except PaperError:
            continue
        choices += [(ratio, across, (width, height)) for ratio in ratios]
    if not choices:
        length = group[0].kind.length
        msg = f"The book cannot show a billet {length:.0f} mm long: the smallest scale is 1:{RATIOS[-1]:.0f}."
        raise PaperError(msg, remedy="Use a larger paper for the book.")
    least = min(ratio for ratio, *_ in choices)
    layouts = []
    for ratio, across, size in sorted(choices):
        if ratio > SMALLER * least:
            break
        view = billet_view(group, ratio)
        items = tuple(_billet_items(view, size))
        pages = len(deal(items, size[1]))
        layouts.append((not view.is_clear, pages, ratio, across, items))
        if view.is_clear and pages == 1:  # later ones are no better, and smaller
            break
    *_, across, items = min(layouts, key=lambda layout: layout[:4])
    return Leaf(items, across, flows=False)


def _billet_items(view: BilletView, room: tuple[float, float]) -> list[Item]:
    width, height = room
    items = [*head(_billet_title(view), width), *keep_together(paragraph(_billet_words(view), width))]
    items += _drawing_and_cuts(view, (width, height - sum(item.height for item in items)))
    slices = [sketch for billet in view.billets for sketch in slice_views(billet)]
    if slices:
        items += [*head("Slices, from the lower face up", width), *rows_of(slices, width)]
    return items


def _drawing_and_cuts(view: BilletView, room: tuple[float, float]) -> list[Item]:
    """The drawing with the table of its cuts: beside it, below it, or in two halves below it, whichever fits first."""
    width, height = room
    drawing, legend = view.drawing, _legend(width)
    columns, rows = _cut_table(view)
    if not rows:
        return [drawing_item(drawing, keep=True), legend, *paragraph("No cuts: the board is the block.", width)]
    left = width - drawing.width - BETWEEN
    if left >= BESIDE:
        table = panel(table_items(columns, rows, left), left)
        if table.height + legend.height <= height:
            right = table.translate(drawing.width + BETWEEN, 0.0)
            both = drawing.overlay(right)
            return [drawing_item(replace(both, height=max(drawing.height, table.height)), keep=True), legend]
    top = [drawing_item(drawing, keep=True), legend, Item(2.0)]
    table_room = height - sum(item.height for item in top)
    under = table_items(columns, rows, width)
    if sum(item.height for item in under) > table_room:
        under = in_halves(columns, rows, width, table_room) or under
    return [*top, *under]


def _billet_title(view: BilletView) -> str:
    name = billets_text(view.billets)
    return f"{name[0].upper()}{name[1:]}" + (f": make {len(view.billets)} of these" if len(view.billets) > 1 else "")


def _billet_words(view: BilletView) -> str:
    first = view.billets[0]
    kind = first.kind
    size = f"{sizes_text((kind.length, kind.width, kind.thickness))}, {boards_text(first)}"
    text = f"{size}. Drawn {scale_words(view.ratio)}, from above; the grain runs from left to right."
    if len(view.billets) == 1:
        return text
    return (
        f"{text} Several block numbers together belong to {billets_text(view.billets)}, in that order; the cut "
        f"numbers in the drawing are those of {billets_text([first])}."
    )


def _legend(width: float) -> Item:
    """What the colours and numbers of the drawing mean."""
    sheet = Drawing(width, 5.0)
    x = 0.0
    high = 3.0
    for word, colour in (("block", BLOCK), ("offcut to keep", LEFTOVER), ("waste and trim", REST)):
        sheet = sheet.with_more(
            [rectangle(Role.LABEL, x, 1.0, 6.0, high)],
            [Label(word, x + 7.5, 1.0 + (high + CAP_HEIGHT * SIZES) / 2, SIZES)],
            [
                patch("legend", colour, x, 1.0, 6.0, high),
                *(hatching(shapely.box(x, 1.0, x + 6.0, 1.0 + high)) if colour == LEFTOVER else []),
            ],
        )
        x += 7.5 + text_width(word, SIZES) + 6.0
    middle, base = 1.0 + high / 2, 1.0 + (high + CAP_HEIGHT * SIZES) / 2
    sheet = sheet.with_more([line(Role.CUT, (x, middle), (x + 6.0, middle))], [Label(CUT_WORDS, x + 7.5, base, SIZES)])
    x += 7.5 + text_width(CUT_WORDS, SIZES) + 6.0
    tips = [(x + 1.5, middle - 1.0), (x, middle), (x + 1.5, middle + 1.0)]
    others = [(2 * x + 7.0 - a, b) for a, b in tips]
    arrow = [line(Role.LABEL, (x, middle), (x + 7.0, middle)), line(Role.LABEL, *tips), line(Role.LABEL, *others)]
    sheet = sheet.with_more(arrow, [Label("grain", x + 8.5, base, SIZES)])
    return drawing_item(sheet)


def _cut_table(view: BilletView) -> tuple[list[Column], list[list[str]]]:
    """Columns and rows: the runs of cuts in order, with a column of cut numbers for each of the billets."""
    per_billet = [runs_of(billet) for billet in view.billets]
    several = len(per_billet) > 1
    heads = [billets_text([billet]) if several else "cuts" for billet in view.billets]
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
                *(cuts_text(run.cuts) for run in runs),
                str(cut.stage),
                _fence(cut),
                runs[0].where,
                str(len(runs[0].cuts)),
                TICK,
            ]
        )
    return columns, rows


def _fence(cut: Cut | FenceSetting) -> str:
    return "none" if cut.stage is Stage.SQUARE else rule_length(cut.fence)


# Fences


def fence_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """Each fence setting once, in order, with its cuts; None if there is no plan."""
    plan, width = contents.plan, room.upright[0]
    if plan is None or not plan.fences:
        return None
    columns = [
        Column("setting", "end"),
        Column("stage"),
        Column("fence", "end"),
        Column("cuts", "end"),
        Column("cut numbers", wraps=True),
        Column(billet_word(plan.billets, many=True), wraps=True),
        Column("done"),
    ]
    rows = [
        [
            str(number),
            str(setting.stage),
            _fence(setting),
            str(len(cuts)),
            cuts_text([cut for _, cut in cuts]),
            number_runs(sorted({billet.number for billet, _ in cuts}), digits=1),
            TICK,
        ]
        for number, (setting, cuts) in enumerate(cuts_by_fence(plan), start=1)
    ]
    total = ["", "", "", str(sum(len(billet.cuts) for billet in plan.billets)), "all cuts", "", ""]
    lead = (
        "Set the fence once for each line, make a trial cut in scrap, measure the piece, and then make all cuts of "
        "that line. The fence distance is from the near side of the wire to the fence: the size of the piece "
        "that you keep."
    )
    items = [*head(FENCES, width), *paragraph(lead, width), *caution_items(WHERE["fences"], width)]
    return Chapter(FENCES, (Leaf((*items, *table_items(columns, rows, width, total=total))),))
