"""Build -> figures for people and programs: report.json, blocks.csv, and what changed since the last plan.

The schema of report.json is in DEVELOPERS.md; SCHEMA rises when a change would break a reader.
Lengths in mm, areas in mm2, volumes in mm3, rounded by `units.figure` so that the same job gives the same text.
"""

import csv
import io
import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict

from profiles import __version__
from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.blocks.body import Body
from profiles.blocks.bodyfile import volume_of
from profiles.blocks.deviation import Deviation
from profiles.blocks.outlines import Outline
from profiles.blocks.pairing import Mark
from profiles.blocks.stations import StationPlan
from profiles.build import Build
from profiles.foam.figures import foam_figures, origins
from profiles.hull.frame import Hull
from profiles.job import PARTS, Job
from profiles.notes import Note, NoteKind, note_figures
from profiles.paper.fonts import font_in_use
from profiles.paper.pages import Page
from profiles.paper.proof import Check
from profiles.paper.sheets import page_numbers
from profiles.paper.template import PROFILES, BlockTemplate, Kind, Source
from profiles.setting import reported_values
from profiles.units import (
    Figures,
    bare_length,
    bare_volume,
    block_name,
    figure,
    printed_unit,
    round_figures,
    short_length,
    volume_unit,
)

SCHEMA = 2


def hull_figures(hull: Hull) -> Figures:
    """The hull as figures."""
    return round_figures(
        {
            "name": hull.name,
            "format": hull.format,
            "unit": hull.unit,
            "unit_from": hull.unit_from,
            "length": hull.length,
            "breadth": hull.breadth,
            "depth": hull.depth,
            "lowest": hull.lowest,
            "volume": hull.volume,
            "volume_from": hull.volume_from,
            "triangles": hull.triangles,
            "bodies": hull.body_count,
            "voids": hull.void_count,
            "axes": {"length": hull.axes.length_axis, "up": hull.axes.up, "nose": hull.axes.nose},
            "steps": hull.steps,
            "openings": [
                {
                    "width": opening.widest.width,
                    "x": opening.x,
                    "widest": dict(zip("xyz", opening.widest.middle, strict=True)),
                    "closing": str(opening.closing),
                }
                for opening in hull.openings
            ],
            "later": [
                {
                    "kind": later.kind,
                    "low": dict(zip("xyz", map(figure, later.low), strict=True)),
                    "high": dict(zip("xyz", map(figure, later.high), strict=True)),
                    "mouth": dict(zip("xyz", map(figure, later.mouth), strict=True)),
                    "width": figure(later.width),
                    "direction": later.direction,
                }
                for later in hull.later
            ],
            "repairs": [note.sentence for note in hull.notes if note.kind is NoteKind.REPAIR],
        }
    )


def plan_figures(job: Job, hull: Hull, stations: StationPlan, notes: Sequence[Note]) -> Figures:
    """The stations and blocks of a plan as figures."""
    return {
        "schema": SCHEMA,
        "name": hull.name,
        "program": f"stationer {__version__}",
        "job": job_figures(job),
        "hull": hull_figures(hull),
        "stations": [{"index": n, "x": figure(x)} for n, x in enumerate(stations.stations)],
        "blocks": [
            {
                "number": span.number,
                "name": block_name(span.number),
                "x_fore": figure(span.x_fore),
                "x_aft": figure(span.x_aft),
                "thickness": figure(span.thickness),
                "full": span.full,
            }
            for span in stations.spans
        ],
        **note_figures(notes),
    }


def report_figures(build: Build, checks: Sequence[Check]) -> Figures:
    """The whole report."""
    figures = plan_figures(build.job, build.body.hull, build.body.stations, build.notes)
    if build.body.parts:
        figures |= _part_figures(build.body)
    figures["fingerprint"] = build.fingerprint
    figures["font"] = font_in_use().family
    pages = page_numbers(page.pieces for page in build.layout.pages)
    figures["templates"] = [
        _template_figures(template, build.body.blocks, pages.get(template.id, ()))
        for template in build.layout.templates
    ]
    ids: dict[int, list[str]] = defaultdict(list)
    for template in build.layout.templates:
        ids[template.source.block].append(template.id)
    figures["blocks"] = [
        span | block_figures(block) | {"templates": ids[span["number"]]}
        for span, block in zip(figures["blocks"], build.body.blocks, strict=True)
    ]
    figures["pages"] = [
        {
            "number": page.number,
            "paper": page.paper.name,
            "width": figure(page.paper.width),
            "height": figure(page.paper.height),
            "file": page_file(page),
        }
        for page in build.layout.pages
    ]
    figures["checks"] = [
        {"name": check.name, "expected": figure(check.expected), "measured": figure(check.measured)} for check in checks
    ]
    if build.body.cuts:
        figures["cuts"] = dict(build.body.cuts.figures)
    figures |= foam_figures(build.foam.cut, build.foam.accuracy, build.foam.wire)
    if build.figures:
        from profiles.body.figures import body_figures  # most jobs do not ask for it

        figures |= body_figures(build.figures)
    if build.drafts:
        figures |= build.drafts.figures
    return figures


def _part_figures(body: Body) -> Figures:
    """The parts of a divided hull, and the joints between them; `turn` and `offset` take a point of the hull to the
    frame of the part.
    """
    return {
        "parts": [
            round_figures(
                {
                    "name": piece.name,
                    "letter": piece.letter,
                    "region": piece.part.words,
                    "slice": piece.part.slices,
                    "twin": piece.part.twin,
                    "foam": piece.stations.foam,
                    "volume": piece.hull.volume,
                    "stations": piece.stations.stations,
                    "blocks": [block.span.number for block in piece.blocks],
                    "turn": piece.part.turn.tolist(),
                    "offset": piece.part.offset.tolist(),
                }
            )
            for piece in body.parts
            if piece.part
        ],
        "joints": [
            round_figures({"parts": joint.parts, "axis": joint.axis, "at": joint.place, "area": joint.outline.area})
            for joint in body.joints
        ],
    }


def page_file(page: Page) -> str:
    """Name of a page's SVG in the output folder."""
    return f"pages/{page.file_stem}.svg"


def template_file(template: BlockTemplate, ending: str = ".svg") -> str:
    """Name of a template's SVG or DXF in the output folder."""
    return f"templates/{template.file_stem}{ending}"


UNLESS_GIVEN = frozenset({"loads", "hollow", "rods", "cutouts", "bays", "stands", "panels", "markings", "parts"})
"""Parts that the report leaves out where the job has none."""


def job_figures(job: Job) -> Figures:
    """The job's values by their keys, without file names, which differ from machine to machine."""
    figures: Figures = {}
    for part in PARTS:
        value = getattr(job, part)
        if value is None or (part in UNLESS_GIVEN and not value):
            continue
        figures[part] = (
            [reported_values(item) for item in value] if isinstance(value, tuple) else reported_values(value)
        )
    if job.drawings and job.drawings.paper:
        size = job.drawings.paper
        figures["drawings"]["paper"] = {"name": size.name, "width": size.width, "height": size.height}
    for name, size in (("size", job.paper.paper), ("card", job.paper.card)):
        figures["paper"][name] = {"name": size.name, "width": size.width, "height": size.height}
    return {part: value for part, value in figures.items() if value != {}}


def block_figures(block: Block) -> Figures:
    """A block as figures; a carved block has no growth and no deviation."""
    grown = block.grown if isinstance(block, CutBlock) else None
    return round_figures(
        {
            "tip": isinstance(block, CarvedBlock),
            "growth": grown and grown.offset,
            "growth_fore": grown and grown.fore_range,
            "growth_aft": grown and grown.aft_range,
            "deviation": grown and _deviation_figures(grown.deviation),
            "before_growth": grown and _deviation_figures(grown.before),
            "foam_volume": volume_of(block),
            "sanding": grown and grown.sanding,
            "sanding_volume": block.sanding_volume if isinstance(block, CutBlock) else None,
            "carving_volume": block.tip.carving_volume if isinstance(block, CarvedBlock) else None,
            "hands": asdict(block.hands) if isinstance(block, CutBlock) else None,
            "features": grown and _feature_figures(grown.deviation),
            "height": block.box.height,
            "width": block.box.width,
            "box": {"y_low": block.box.y_low, "z_low": block.box.z_low},
            "pins": [asdict(pin) for pin in block.pins],
        }
    )


def _outline_and_marks(blocks: Sequence[Block], source: Source) -> tuple[Outline, Sequence[Mark]]:
    """What a template shows of its face, profile or gauge."""
    block = next(block for block in blocks if block.span.number == source.block)
    parts: dict[tuple[str, int], tuple[Outline, Sequence[Mark]]] = {
        (face.which, 0): (face.outline, face.marks) for face in block.faces
    }
    if isinstance(block, CarvedBlock):
        parts |= {
            (kind, 0): (profile.outline, profile.marks)
            for profile in block.tip.profiles
            for kind in PROFILES[profile.view]
        }
        parts |= {(Kind.GAUGE, gauge.number): (gauge.outline, ()) for gauge in block.tip.gauges}
    return parts[source.kind, source.number]


def _feature_figures(deviation: Deviation) -> Figures | None:
    """Where a block is carved that a wire cuts."""
    if not deviation.carved:
        return None
    return {"marks": [*deviation.carved], "depth": deviation.carved_depth, "volume": deviation.carved_volume}


def _deviation_figures(deviation: Deviation) -> Figures:
    """`lowest` is negative if foam is missing; places are in the hull frame."""
    return {
        "missing": deviation.missing,
        "extra": deviation.extra,
        "mean": deviation.mean,
        "rms": deviation.rms,
        "lowest": asdict(deviation.lowest),
        "highest": asdict(deviation.highest),
        "marks": [asdict(mark) for mark in deviation.by_mark],
    }


def _template_figures(template: BlockTemplate, blocks: Sequence[Block], pages: Sequence[int]) -> Figures:
    if template.section is None:
        outline, marks = _outline_and_marks(blocks, template.source)
    else:
        outline, marks = Outline(template.section, template.section, template.section), ()
    cut = outline.cut
    return {
        "id": template.id,
        "block": template.source.block,
        "face": template.source.part,
        "x": figure(template.source.x),
        "finished_area": figure(outline.finished.area),
        "cut_area": figure(cut.area),
        "loops": len(cut.geoms),
        "holes": sum(len(part.interiors) for part in cut.geoms),
        "marks": len(marks),
        "file": template_file(template),
        "pages": list(pages),
    }


def as_json(figures: Figures) -> str:
    """The figures as JSON text with a line end."""
    return json.dumps(figures, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


BLOCK_COLUMNS = (
    *("block", "thickness_{length}", "height_{length}", "width_{length}", "full", "x_fore_{length}", "x_aft_{length}"),
    *("templates", "layers", "sliced", "billet", "strip", "blank"),
    *("box_{volume}", "body_{volume}", "waste_{volume}"),
    "cut_into",
)
"""Columns of the block list, with their units; body is what wire and knife leave;
cut_into names what is cut into the block besides its outside."""


def blocks_csv(build: Build) -> str:
    """The block list: a line for each block, from the nose."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    units = {"length": printed_unit(), "volume": volume_unit().replace(" ", "_")}
    writer.writerow([column.format(**units) for column in BLOCK_COLUMNS])
    places = origins(build.foam.cut)
    for block in build.body.blocks:
        span = block.span
        origin = places.get(span.number)
        box = block.box.height * block.box.width * span.thickness
        body = volume_of(block)
        writer.writerow(
            [
                block_name(span.number),
                bare_length(span.thickness, 2),
                short_length(block.box.height),
                short_length(block.box.width),
                "yes" if span.full else "no",
                bare_length(span.x_fore, 2),
                bare_length(span.x_aft, 2),
                " + ".join(template.id for template in build.layout.templates if template.source.block == span.number),
                " + ".join(origin.layers) if origin else "",
                "yes" if origin and origin.sliced else "no",
                *((origin.billet, origin.strip, origin.blank) if origin else ("", "", "")),
                bare_volume(box, 4),
                "" if body is None else bare_volume(body, 4),
                "" if body is None else bare_volume(box - body, 4),
                " + ".join(block.into.names) if block.into else "",
            ]
        )
    return text.getvalue()


def changes(old: Figures, new: Figures) -> list[str]:
    """How a plan differs from the one that was in the folder before; empty if its templates are still valid."""
    if old.get("fingerprint") == new["fingerprint"]:
        return []
    lines = [f"fingerprint: {old.get('fingerprint', 'unknown')} -> {new['fingerprint']}"]
    hulls = [_hull_words(figures.get("hull", {})) for figures in (old, new)]
    if hulls[0] != hulls[1]:
        lines.append(f"hull: {hulls[0]} -> {hulls[1]}")
    before, after = _flat(old.get("job", {})), _flat(new["job"])
    lines += [
        f"{key}: {before.get(key)} -> {after.get(key)}"
        for key in sorted(before.keys() | after.keys())
        if before.get(key) != after.get(key)
    ]
    old_blocks, new_blocks = len(old.get("blocks", [])), len(new["blocks"])
    if old_blocks != new_blocks:
        lines.append(f"blocks: {old_blocks} -> {new_blocks}")
    return lines


def _hull_words(hull: Figures) -> str:
    """Name, size and volume: enough to identify another hull."""
    known = [hull.get(key) for key in ("length", "breadth", "depth", "volume")]
    length, breadth, depth, volume = (float(size) if isinstance(size, int | float) else 0.0 for size in known)
    return f"{hull.get('name')}, {length:.2f} x {breadth:.2f} x {depth:.2f} mm, {volume / 1e6:.4f} litres"


def _flat(tree: Figures, stem: str = "") -> Figures:
    flat: Figures = {}
    for key, value in tree.items():
        if isinstance(value, dict):
            flat |= _flat(value, f"{stem}{key}.")
        else:
            flat[stem + key] = list(value) if isinstance(value, tuple) else value
    return flat
