"""What a fork of a bench makes of a job, step by step, into a folder that the server hands out.

body.json meshes.json deviation.json blocks.json   as soon as the blocks are there
sheets.json files.json files/...                   at the end: the files of the command line, and all of them as a ZIP
"""

import io
import json
import zipfile
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from pathlib import Path
from typing import Any

from profiles.blocks.body import Body
from profiles.build import Build, all_notes, build, shape, supply_job
from profiles.comparing import compare
from profiles.desk.figures import (
    block_meshes,
    block_templates,
    body_figures,
    compare_row,
    deviation_series,
)
from profiles.errors import JobError
from profiles.hull.frame import Hull
from profiles.job import Job
from profiles.layout import fingerprint_of
from profiles.notes import fact
from profiles.proposing import propose_thickness
from profiles.report import page_file
from profiles.results import render_build
from profiles.units import figure, print_lengths_in

Say = Callable[[dict[str, Any]], None]
"""Tells the server something."""

FIXED_DATE = (1980, 1, 1, 0, 0, 0)
"""Of every file in a ZIP: the earliest that the format knows, so that the same job gives the same bytes."""

LABELS = {
    "templates.pdf": "Templates",
    "job-book.pdf": "Job book",
    "cards.svg": "Cards, SVG",
    "cards.dxf": "Cards, DXF",
    "built.stl": "Body as built, STL",
    "built.glb": "Body as built, GLB",
    "blocks.csv": "List of blocks",
    "report.json": "All figures",
    "body.svg": "Picture of the body",
    "drawings.pdf": "Drawings at true size",
    "panels.pdf": "Panels of the skin",
    "markings.pdf": "Markings",
    "job.toml": "The job",
    "everything.zip": "Everything",
}
"""Files that are offered one by one, first of all. Single pages and templates are in the ZIP."""


def make(job: Job, hull: Hull, folder: Path, job_text: str, say: Say, executor: Executor | None) -> None:
    """Everything of a job in a new folder. Raises any StationerError."""
    with print_lengths_in(job.output.units):
        _make(job, hull, folder, job_text, say, executor)


def _make(job: Job, hull: Hull, folder: Path, job_text: str, say: Say, executor: Executor | None) -> None:
    folder.mkdir()
    progress = _progress(say)
    chosen, body, words = _body(job, hull, progress, executor)
    progress("planning the foam")
    foam = supply_job(chosen, body)
    notes = all_notes((body,), foam)
    if words:
        notes = (fact(words), *notes)
    fingerprint = None if job.is_weighed else fingerprint_of(body)  # a waterline on the templates is not known yet
    write_json(folder / "body.json", body_figures(body, foam, notes, fingerprint))
    write_json(folder / "deviation.json", deviation_series(body.bodies[0].blocks, body.stations.stations))
    write_json(folder / "meshes.json", {"blocks": block_meshes(body)})
    write_json(folder / "blocks.json", {str(block.span.number): block_templates(block, body) for block in body.blocks})
    say({"have": "body"})
    made = build(chosen, body, progress, executor)
    results = render_build(made, progress, executor)
    progress("writing the files")
    _write_files(folder, made, results.files, job_text)
    say({"have": "files"})


def _progress(say: Say) -> Callable[[str], None]:
    return lambda stage: say({"stage": stage})


def _body(job: Job, hull: Hull, progress: Callable[[str], None], executor: Executor | None) -> tuple[Job, Body, str]:
    """The job with its foam thickness, its body, and how the thickness was chosen where boards alone are given."""
    if job.foam.thickness is not None or not (job.boards or job.offcuts):
        progress("pairing faces and growing outlines")
        return job, shape(job, hull, executor), ""
    progress("trying what the boards give")
    proposal = propose_thickness(job, hull, executor)
    choice = proposal.choice
    return choice.job, choice.body, f"foam of {choice.row.foam:g} mm was chosen from the boards: {proposal.reason}"


def write_json(path: Path, figures: Mapping[str, Any]) -> None:
    """Figures as a file that the server hands out."""
    path.write_text(json.dumps(figures, ensure_ascii=False, allow_nan=False), encoding="utf-8")


def _write_files(folder: Path, made: Build, results: Mapping[str, bytes], job_text: str) -> None:
    files = {**results, "job.toml": job_text.encode()}
    files = dict(sorted(files.items()))
    files["everything.zip"] = zip_of(files)
    target = folder / "files"
    for name, content in files.items():
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    paper = made.job.paper.paper
    write_json(
        folder / "sheets.json",
        {
            "paper": {"name": paper.name, "width": figure(paper.width), "height": figure(paper.height)},
            "notes": [note.sentence for note in made.layout.notes],
            "sheets": [
                {
                    "number": page.number,
                    "file": page_file(page),
                    "title": f"page {page.number} of {page.of}",
                    "width": figure(page.paper.width),
                    "height": figure(page.paper.height),
                    "templates": list(dict.fromkeys(piece.template_id for piece in page.pieces)),
                }
                for page in made.layout.pages
            ],
        },
    )
    names = [*(name for name in LABELS if name in files), *(name for name in files if _is_other(name))]
    listed = [{"name": name, "label": _label(name), "bytes": len(files[name])} for name in names]
    write_json(folder / "files.json", {"fingerprint": made.fingerprint, "files": listed})


def _is_other(name: str) -> bool:
    """Whether a file is offered although it has no label of its own: drawings, curves, but no single template."""
    return "/" not in name and name not in LABELS


def _label(name: str) -> str:
    stem, _, ending = name.rpartition(".")
    return LABELS.get(name) or f"{stem.replace('-', ' ').capitalize()}, {ending.upper()}"


def zip_of(files: Mapping[str, bytes]) -> bytes:
    """Files as a ZIP whose bytes depend on nothing but their names and contents."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, FIXED_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3  # the same wherever it is made: permissions as on Unix
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, content)
    return stream.getvalue()


MOST_COMPARED = 12
"""Ways to build that are compared at once; each takes as long as a body."""

NEIGHBOURS = (20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0)
"""mm; usual thicknesses of XPS boards (common practice), tried beside the present one."""


def compare_rows(
    job: Job, hull: Hull, foams: list[float], fits: list[float], executor: Executor | None
) -> list[dict[str, Any]]:
    """The present foam with others, or with those next to it among usual boards, as rows. Raises any StationerError."""
    with print_lengths_in(job.output.units):
        return _compare_rows(job, hull, foams, fits, executor)


def _compare_rows(
    job: Job, hull: Hull, foams: list[float], fits: list[float], executor: Executor | None
) -> list[dict[str, Any]]:
    present = job.foam.thickness
    if not foams and present is not None:
        thinner = [size for size in NEIGHBOURS if job.foam.min_block <= size < present][-1:]
        thicker = [size for size in NEIGHBOURS if present < size < hull.length][:1]
        foams = [*thinner, present, *thicker]
    if not foams:
        message = "there is no foam thickness to compare"
        raise JobError(message, remedy="Give the thickness of the foam first.")
    if len(foams) * (1 + len(fits)) > MOST_COMPARED:
        message = f"{len(foams) * (1 + len(fits))} ways to build are too many to compare at once"
        raise JobError(message, remedy=f"Choose at most {MOST_COMPARED}.")
    limits = [job.foam.fit, *(fit for fit in fits if fit != job.foam.fit)]
    return [compare_row(variant.row) for variant in compare(job, hull, foams, limits, executor)]
