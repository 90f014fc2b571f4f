"""Build -> figures for people and programs: report.json, blocks.csv, and what changed against the last plan.

The schema of report.json is written out in DEVELOPERS.md; SCHEMA rises when a reader of it would break.
Lengths in mm, areas in mm2, volumes in mm3, each rounded by `units.figure` so that the same job gives the same text.
"""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from typing import Any

from profiles import __version__
from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.blocks.deviation import Deviation, Extreme
from profiles.blocks.outlines import Outline
from profiles.blocks.pairing import Mark
from profiles.blocks.ruled import volume
from profiles.blocks.stations import StationPlan
from profiles.build import Build
from profiles.foam.figures import foam_figures, origins
from profiles.hull.frame import Hull
from profiles.job import PARTS, Job
from profiles.notes import Note, NoteKind, note_figures
from profiles.paper.fonts import font_in_use
from profiles.paper.pages import Page
from profiles.paper.proof import Check
from profiles.paper.template import BlockTemplate, Kind, Source
from profiles.setting import figures_of
from profiles.units import figure

SCHEMA = 2

Figures = dict[str, Any]


def hull_figures(hull: Hull) -> Figures:
    """The hull as figures."""
    return {
        "name": hull.name,
        "format": hull.format,
        "unit": hull.unit,
        "unit_from": hull.unit_from,
        "length": figure(hull.length),
        "breadth": figure(hull.breadth),
        "depth": figure(hull.depth),
        "lowest": figure(hull.lowest),
        "volume": figure(hull.volume),
        "volume_from": hull.volume_from,
        "triangles": hull.triangles,
        "bodies": hull.body_count,
        "voids": hull.void_count,
        "axes": {"length": hull.axes.length_axis, "up": hull.axes.up, "nose": hull.axes.nose},
        "steps": [figure(x) for x in hull.steps],
        "openings": [
            {
                "width": figure(opening.widest.width),
                "x": [figure(x) for x in opening.x],
                "widest": dict(zip("xyz", map(figure, opening.widest.middle), strict=True)),
                "closing": str(opening.closing),
            }
            for opening in hull.openings
        ],
        "repairs": [note.sentence for note in hull.notes if note.kind is NoteKind.REPAIR],
    }


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
                "x_fore": figure(span.x_fore),
                "x_aft": figure(span.x_aft),
                "thickness": figure(span.thickness),
                "full": span.full,
            }
            for span in stations.spans
        ],
        **note_figures(notes),
    }


def report_figures(build: Build, checks: Sequence[Check], files: Mapping[str, str]) -> Figures:
    """The whole report. `files` gives the SVG file of each template id."""
    figures = plan_figures(build.job, build.body.hull, build.body.stations, build.notes)
    figures["fingerprint"] = build.fingerprint
    figures["font"] = font_in_use().family
    figures["blocks"] = [
        plain | _block_figures(block) for plain, block in zip(figures["blocks"], build.body.blocks, strict=True)
    ]
    figures["templates"] = [
        _template_figures(template, build, files[template.id]) for template in build.layout.templates
    ]
    ids: dict[int, list[str]] = {}
    for template in build.layout.templates:
        ids.setdefault(template.source.block, []).append(template.id)
    for block in figures["blocks"]:
        block["templates"] = ids.get(block["number"], [])
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
    figures |= foam_figures(build.foam.cut, build.foam.accuracy, build.foam.wire)
    return figures


def page_file(page: Page) -> str:
    """Name of a page's SVG in the output folder."""
    return f"pages/{page.file_stem}.svg"


def job_figures(job: Job) -> Figures:
    """The job's values by their keys, without the places of files, which differ from machine to machine."""
    figures: Figures = {}
    for part in PARTS:
        value = getattr(job, part)
        figures[part] = [figures_of(item) for item in value] if isinstance(value, tuple) else figures_of(value)
    size = job.paper.paper
    figures["paper"]["size"] = {"name": size.name, "width": size.width, "height": size.height}
    return {part: value for part, value in figures.items() if value != {}}


def _block_figures(block: Block) -> Figures:
    figures: Figures = {
        "tip": isinstance(block, CarvedBlock),
        "growth": None,
        "growth_fore": None,
        "growth_aft": None,
        "deviation": None,
        "before_growth": None,
        "foam_volume": None,
        "sanding": None,
        "sanding_volume": None,
    }
    if isinstance(block, CutBlock):
        figures |= {
            "growth": figure(block.grown.offset),
            "growth_fore": [figure(offset) for offset in block.grown.fore_range],
            "growth_aft": [figure(offset) for offset in block.grown.aft_range],
            "deviation": _deviation_figures(block.grown.deviation),
            "before_growth": _deviation_figures(block.grown.before),
            "foam_volume": figure(volume(block.grown.block)),
            "sanding": figure(block.grown.sanding),
            "sanding_volume": figure(block.grown.sanding_volume),
        }
    return figures | {
        "height": figure(block.box.height),
        "width": figure(block.box.width),
        "box": {"y_low": figure(block.box.y_low), "z_low": figure(block.box.z_low)},
        "pins": [{"y": figure(pin.y), "z": figure(pin.z)} for pin in block.pins],
    }


def _outline_and_marks(blocks: Sequence[Block], source: Source) -> tuple[Outline, Sequence[Mark]]:
    """What a template shows of its face, profile or gauge."""
    block = next(block for block in blocks if block.span.number == source.block)
    parts: dict[tuple[str, int], tuple[Outline, Sequence[Mark]]] = {
        (face.which, 0): (face.outline, face.marks) for face in block.faces
    }
    if isinstance(block, CarvedBlock):
        parts |= {(profile.view, 0): (profile.outline, profile.marks) for profile in block.tip.profiles}
        parts |= {(Kind.GAUGE, gauge.number): (gauge.outline, ()) for gauge in block.tip.gauges}
    return parts[source.kind, source.number]


def _deviation_figures(found: Deviation) -> Figures:
    """Missing foam counts as negative at `lowest`; places in the hull frame."""

    def extreme(one: Extreme) -> Figures:
        return {
            "value": figure(one.value),
            "x": figure(one.x),
            "y": figure(one.y),
            "z": figure(one.z),
            "mark": one.mark,
        }

    return {
        "missing": figure(found.missing),
        "extra": figure(found.extra),
        "mean": figure(found.mean),
        "rms": figure(found.rms),
        "lowest": extreme(found.lowest),
        "highest": extreme(found.highest),
        "marks": [
            {
                "number": one.number,
                "lowest": figure(one.lowest),
                "highest": figure(one.highest),
                "mean": figure(one.mean),
            }
            for one in found.by_mark
        ],
    }


def _template_figures(template: BlockTemplate, build: Build, file: str) -> Figures:
    outline, marks = _outline_and_marks(build.body.blocks, template.source)
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
        "file": file,
        "pages": [
            page.number for page in build.layout.pages if any(piece.template_id == template.id for piece in page.pieces)
        ],
    }


def as_json(figures: Figures) -> str:
    """The figures as JSON text with a line end."""
    return json.dumps(figures, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


BLOCK_COLUMNS = (
    *("block", "thickness_mm", "height_mm", "width_mm", "full", "x_fore_mm", "x_aft_mm", "templates"),
    *("layers", "sliced", "billet", "strip", "blank", "box_litres", "body_litres", "waste_litres"),
)
"""Columns of the block list; body and waste stay empty for a carved block."""


def blocks_csv(build: Build) -> str:
    """The block list: one line for each block, from the nose."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(BLOCK_COLUMNS)
    places = origins(build.foam.cut)
    for block in build.body.blocks:
        span = block.span
        origin = places.get(span.number)
        box = block.box.height * block.box.width * span.thickness
        body = volume(block.grown.block) if isinstance(block, CutBlock) else None
        writer.writerow(
            [
                f"{span.number:02d}",
                f"{span.thickness:.2f}",
                f"{block.box.height:g}",
                f"{block.box.width:g}",
                "yes" if span.full else "no",
                f"{span.x_fore:.2f}",
                f"{span.x_aft:.2f}",
                " + ".join(template.id for template in build.layout.templates if template.source.block == span.number),
                " + ".join(origin.layers) if origin else "",
                "yes" if origin and origin.sliced else "no",
                *((origin.billet, origin.strip, origin.blank) if origin else ("", "", "")),
                f"{box / 1e6:.4f}",
                "" if body is None else f"{body / 1e6:.4f}",
                "" if body is None else f"{(box - body) / 1e6:.4f}",
            ]
        )
    return text.getvalue()


def changes(old: Figures, new: Figures) -> list[str]:
    """What is different from the plan that was in the folder before; empty when its templates are still valid."""
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
