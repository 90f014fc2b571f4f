"""Build -> the contents of its job book, with figures already in words and units."""

from dataclasses import replace
from functools import partial
from typing import TypedDict

from profiles.blocks.blocks import CarvedBlock, CutBlock
from profiles.book.contents import BookContents, BookFacts, FigureRow, Views, make_contents
from profiles.book.cutlist import billet_word
from profiles.book.pages import BookSettings, book_paper
from profiles.build import Build
from profiles.foam.accuracy import LengthError
from profiles.foam.figures import boards_used, describe_proof, wire_rows
from profiles.foam.stock import describe_tolerance, thickness_tolerance
from profiles.layout import datum_sentence
from profiles.paper.sheets import Picture
from profiles.units import block_name, number_runs

LITRE = 1e6
"""mm3 in a litre."""


def book_contents(build: Build) -> BookContents:
    """The contents of a build's job book."""
    foam = build.foam
    facts = BookFacts(
        key=_main_figures(build),
        wire=tuple(FigureRow(*row) for row in wire_rows(foam.wire)),
        wire_cautions=tuple(note.sentence for note in foam.wire.notes),
        accuracy=_accuracy_rows(build),
        **_weight_facts(build),
        cuts=build.body.cuts.rows if build.body.cuts else (),
        notes=build.notes,
        datum=datum_sentence(build.body),
        drafts=build.drafts.steps if build.drafts else (),
    )
    views = Views(build.layout.extents, build.layout.pictures.get("body"), curves_of(build))
    contents = make_contents(
        build.layout.heading,
        build.body.blocks,
        build.layout.templates,
        build.layout.pages,
        plan=foam.cut,
        views=views,
        facts=facts,
    )
    if not build.body.parts:
        return contents
    from profiles.joining import joint_rows, part_rows  # most jobs have no parts

    return replace(contents, parts=part_rows(build), joints=joint_rows(build))


def book_settings(build: Build) -> BookSettings:
    """The settings of a book that suits the paper of the templates."""
    return BookSettings(paper=book_paper(build.job.paper.paper))


class _WeightFacts(TypedDict, total=False):
    weights: tuple[tuple[str, ...], ...]
    balance: tuple[FigureRow, ...]
    afloat: tuple[FigureRow, ...]


def _weight_facts(build: Build) -> _WeightFacts:
    """Weight and flotation in words, where the job asks for them."""
    if build.figures is None:
        return {}
    from profiles.body.figures import balance_rows, flotation_rows, weight_rows  # most jobs do not ask for it

    made_of, scale = build.figures.weights, build.figures.scale
    facts: _WeightFacts = {
        "weights": tuple(weight_rows(made_of)),
        "balance": tuple(FigureRow(*row) for row in balance_rows(made_of, build.body.hull.lowest)),
    }
    if build.figures.flotation:
        rows = flotation_rows(build.figures.flotation)
        original = ["" if scale is None else row.text_at(scale) for row in rows]
        facts["afloat"] = tuple(
            FigureRow(row.label, row.text, "; ".join(filter(None, (row.note, size and f"original {size}"))))
            for row, size in zip(rows, original, strict=True)
        )
    return facts


def curves_of(build: Build) -> tuple[Picture, ...]:
    """The plots of a body afloat: righting arms, displacement."""
    if build.figures is None or build.figures.flotation is None:
        return ()
    from profiles.pictures.curves import displacement_plot, righting_plot  # most jobs do not ask for it

    hull, flotation = build.body.hull, build.figures.flotation
    return (
        partial(righting_plot, hull.name, flotation),
        partial(displacement_plot, hull.name, flotation, hull.lowest),
    )


def _main_figures(build: Build) -> tuple[FigureRow, ...]:
    hull, plan, layout = build.body.hull, build.body.stations, build.layout
    grown = [block.grown for block in build.body.blocks if isinstance(block, CutBlock)]
    billets = build.foam.cut.billets
    used = build.body.settings.allowances
    squared = sum(block.box.width * block.box.height * block.span.thickness for block in build.body.blocks)
    foam = layout.heading.foam if build.body.parts else f"{plan.foam:g} mm"
    rows = [
        FigureRow("length x breadth x depth", f"{hull.length:.1f} x {hull.breadth:.1f} x {hull.depth:.1f} mm"),
        FigureRow("volume of the hull", f"{hull.volume / LITRE:.3f} litres", f"from {hull.volume_from}"),
        FigureRow(
            "foam",
            foam,
            "nominal thickness" if build.job.foam.as_measured else "",
        ),
        FigureRow("blocks", f"{len(plan.spans)}", _describe_blocks(build)),
        FigureRow("templates", f"{len(layout.templates)}", f"on {len(layout.pages)} pages of templates.pdf"),
        FigureRow("skin, kerf, wire", f"{used.skin:g}, {round(used.kerf, 2):g}, {used.wire:g} mm", "as used"),
        FigureRow("squared blocks", f"{squared / LITRE:.2f} litres"),
    ]
    if grown:
        rows += [
            FigureRow(
                "foam missing",
                f"{max(block.deviation.missing for block in grown):.2f} mm",
                "at the deepest place; carved blocks not counted",
            ),
            FigureRow("outlines enlarged by", f"{max(block.offset for block in grown):.2f} mm", "at most"),
            FigureRow(
                "to sand off",
                f"{max(block.sanding for block in grown):.2f} mm",
                f"at most; {sum(block.sanding_volume for block in build.body.cut_blocks) / LITRE:.3f} litres in total",
            ),
            _describe_hands(build),
        ]
    features = {
        block.span.number: block.grown.deviation.carved_volume
        for block in build.body.cut_blocks
        if block.grown.deviation.carved
    }
    if features:
        litres = sum(features.values()) / LITRE
        blocks = f"block{'' if len(features) == 1 else 's'} {number_runs([*features])}"
        rows.append(
            FigureRow("to carve where marked", f"{litres:.3f} litres", f"{blocks}, at the marks on the templates")
        )
    tips = {block.span.number: block.tip for block in build.body.blocks if isinstance(block, CarvedBlock)}
    if tips:
        litres = sum(tip.carving_volume for tip in tips.values()) / LITRE
        blocks = f"block{'' if len(tips) == 1 else 's'} {number_runs([*tips])}"
        rows.append(FigureRow("to carve off", f"{litres:.3f} litres", f"{blocks}, after both profiles are cut"))
    rows.append(
        FigureRow(f"{billet_word(billets, many=True)} to cut", f"{len(billets)}", describe_proof(build.foam.cut))
    )
    return tuple(rows)


def _describe_hands(build: Build) -> FigureRow:
    """The largest ratio of the two hands' speeds, and where it is."""
    block = max(build.body.cut_blocks, key=lambda block: block.hands.ratio)
    where = f"between two marks, in block {block_name(block.span.number)}"
    return FigureRow("faster hand to slower", f"{block.hands.ratio:.1f} to 1", where)


def _describe_blocks(build: Build) -> str:
    odd = len(build.body.stations.odd_spans)
    carved = sum(isinstance(block, CarvedBlock) for block in build.body.blocks)
    words = [f"{odd} odd" if odd else "", f"{carved} carved by profiles and gauges" if carved else ""]
    return ", ".join(word for word in words if word)


def _accuracy_rows(build: Build) -> tuple[FigureRow, ...]:
    error = build.foam.accuracy
    rows = []
    for use in boards_used(build.foam.cut):
        below, above = thickness_tolerance(use.board)
        note = f"-{below:g}/+{above:g} mm, {describe_tolerance(use.board)}"
        rows.append(FigureRow(f"thickness of {use.board.name}", f"{use.board.actual_thickness:g} mm", note))
    if error is None:
        return (*rows, FigureRow("length", "not known", "some blocks have no foam yet"))
    return (*rows, *_length_rows(build, error))


STATIONS_SHOWN = 3
"""Number of places along the body that have a figure, besides its end."""


def _length_rows(build: Build, error: LengthError) -> list[FigureRow]:
    end = error.end
    rows = [FigureRow("length as planned", f"{end.x:.1f} mm")]
    if error.glue:
        rows.append(FigureRow("glue between blocks", f"{error.glue:+.1f} mm", "included in the figures below"))
    rows += [
        FigureRow("known difference", f"{end.known:+.1f} mm", "from measured boards and glue lines"),
        FigureRow("length, worst case", f"{end.reach[0]:.1f} to {end.reach[1]:.1f} mm", "all errors in one direction"),
        FigureRow(
            "likely length",
            f"{end.expected - end.likely[0]:.1f} to {end.expected + end.likely[1]:.1f} mm",
            f"blocks from one {billet_word(build.foam.cut.billets)} share its error",
        ),
    ]
    step = max(1, len(error.stations) // (STATIONS_SHOWN + 1))
    for place in error.stations[step - 1 : -1 : step][:STATIONS_SHOWN]:
        low, high = place.reach
        rows.append(FigureRow(f"station at x = {place.x:.0f} mm", f"{low:.1f} to {high:.1f} mm", "worst case"))
    if not build.job.foam.as_measured:
        advice = "measure the boards, write measured under [[boards]] in the job, and make with --as-measured"
        rows.append(FigureRow("for a better length", "", advice))
    return rows
