"""Coverage-guided fuzzing of jobs, from the text of a job file to blocks, foam and pages of a tiny hull.

    python tests/fuzz/fuzz_job.py -max_total_time=60

Only a StationerError may come out, every figure is finite, and a cutting plan stands up to being cut again. The first
byte of an input chooses: the text of a job file, or bytes that choose settings one by one and move corners of a hull.
Whatever libFuzzer takes may follow; a finding is written into the working folder.
"""

import contextlib
import json
import math
import sys
import tempfile
import warnings
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

with atheris.instrument_imports(include=["profiles", "tomllib"]):
    from profiles import results, workers  # noqa: F401 - their imports are followed too
    from profiles.build import Build, plan_job, read_job, shape, supply_job
    from profiles.errors import StationerError
    from profiles.foam.figures import foam_figures
    from profiles.foam.stock import Board
    from profiles.foam.supply import squared_sizes
    from profiles.job import PARTS, Job
    from profiles.jobfile import load_job
    from profiles.layout import lay_out
    from profiles.report import plan_figures
    from profiles.setting import Setting, SettingField, choices_of, setting_fields

import numpy as np

from tests import closed_forms as zoo
from tests.foam.cut_replay import check_plan
from tests.hull.mesh_files import stl_binary

ROOM = Path(tempfile.mkdtemp(prefix="fuzz-"))
MODELS = Path(__file__).parents[2] / "models"

MORE = """
[hull]
file = "a.stl"
scale = "1:12"
bodies = [1, 2]
[foam]
thickness = "1.5in"
breaks = [10, "1in"]
odd = "both"
[[boards]]
name = "blue"
count = 2
length = 1250
width = 600
thickness = 40
tolerance = [1, 2]
price = 12.5
[cutting]
kerf = 1
[wire]
gauge = 26
[template]
growth = "none"
gauges = [3]
[paper]
size = "610x2000"
bar_up = 99.5
"""

HULLS = (
    zoo.box(),
    zoo.wedge(),
    zoo.twin_boxes(),
    zoo.tube(),
    zoo.stepped_box(),
    zoo.frustum(sides=8),
    zoo.spheroid(rings=6, sides=8),
    zoo.joined(zoo.box(40.0), zoo.box(40.0, x=60.0, y=15.0)),
    (zoo.box()[0], zoo.box()[1][:-2]),
)
"""A dozen triangles to a hundred each, 100 mm long or so; the last is open."""

STRUCTURED = 128
"""From this first byte on the bytes choose settings; below it they are the text of a job file."""

MOST_SPANS = 4
"""More blocks are planned and not cut: that would be slow and find nothing new."""

LEAST_EFFORT = 20
"""Nodes of each search for a cutting plan."""


def one_input(data: bytes) -> None:
    """One job, and a hull that it is carried out with."""
    if not data:
        return
    chance = atheris.FuzzedDataProvider(data[1:])
    text = job_text(chance).encode() if data[0] >= STRUCTURED else data[1:]
    path = ROOM / "job.toml"
    path.write_bytes(text)
    with contextlib.suppress(StationerError):
        job = load_job(path)
        finite(asdict(job))
        carry_out(job, hull_bytes(data[0] % len(HULLS), chance), pages=chance.ConsumeIntInRange(0, 15) == 1)
    if data[0] >= STRUCTURED:
        return
    word = text.decode("utf-8", "replace")[:200]
    for key in (("foam", "thickness"), ("hull", "scale"), ("paper", "size"), ("hull", "unit"), ("template", "growth")):
        with contextlib.suppress(StationerError):
            finite(asdict(load_job(Path("hull.stl"), {key: word})))


def carry_out(job: Job, content: bytes, *, pages: bool) -> None:
    """All stages but the files themselves. Raises StationerError."""
    file = ROOM / "hull.stl"
    file.write_bytes(content)
    cutting = replace(job.cutting, effort=min(job.cutting.effort, LEAST_EFFORT))
    job = replace(job, hull=replace(job.hull, file=str(file)), cutting=cutting)
    hull = read_job(job)
    if job.foam.thickness is not None and hull.length > MOST_SPANS * job.foam.thickness and job.foam.fit is None:
        if hull.length < 1000 * job.foam.thickness:
            strict_json(plan_figures(job, hull, plan_job(job, hull), ()))
        return
    body = shape(job, hull)
    made = supply_job(job, body)
    check_plan(made.cut, squared_sizes(body.blocks))
    strict_json(plan_figures(job, hull, body.stations, (*body.notes, *made.notes)))
    strict_json(foam_figures(made.cut, made.accuracy, made.wire))
    for block in body.cut_blocks:
        finite([block.grown.offset, block.grown.sanding, block.grown.sanding_volume, asdict(block.box)])
    if pages:
        layout = lay_out(body, replace(job.paper, max_sheets=min(job.paper.max_sheets, 40)))
        assert Build(job, (body,), made, layout).notes is not None


def strict_json(figures: dict[str, Any]) -> None:
    """Refuse figures that are not finite."""
    json.dumps(figures, allow_nan=False)


def finite(value: object) -> None:
    """Refuse any number that a build could stumble over."""
    if isinstance(value, float):
        assert math.isfinite(value), value
    elif isinstance(value, dict):
        for inner in value.values():
            finite(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            finite(inner)


# ---- bytes -> job file, hull -----------------------------------------------------------------------------------------


def hull_bytes(kind: int, chance: "atheris.FuzzedDataProvider") -> bytes:
    """An STL of one of HULLS with up to three of its corners moved by up to 60 mm."""
    vertices, faces = HULLS[kind]
    vertices = vertices.copy()
    for _ in range(chance.ConsumeIntInRange(0, 3)):
        corner = chance.ConsumeIntInRange(0, len(vertices) - 1)
        vertices[corner] += [chance.ConsumeIntInRange(-60, 60) for _ in range(3)]
    return stl_binary(np.round(vertices, 3), faces)


def job_text(chance: "atheris.FuzzedDataProvider") -> str:
    """A job file whose settings the bytes choose, most of them within their limits."""
    lines: list[str] = []
    for part, settings in PARTS.items():
        if settings is Board:
            for _ in range(chance.ConsumeIntInRange(0, 2)):
                lines += [f"[[{part}]]", *board_lines(chance)]
            continue
        lines.append(f"[{part}]")
        for field in setting_fields(settings):
            if field.key == "file":
                lines.append('file = "hull.stl"')
            elif field.key == "thickness":
                lines.append(f"thickness = {chance.ConsumeIntInRange(20, 120)}")
            elif chance.ConsumeIntInRange(0, 7) == 1:
                lines.append(f"{field.key} = {value_text(field, chance)}")
    return "\n".join(lines)


def board_lines(chance: "atheris.FuzzedDataProvider") -> Iterator[str]:
    """A board of a likely size, or not."""
    for field in setting_fields(Board):
        if field.key in {"length", "width", "thickness"}:
            most = 130 if field.key == "thickness" else 1500
            yield f"{field.key} = {chance.ConsumeIntInRange(10, most)}"
        elif chance.ConsumeIntInRange(0, 3) == 1:
            yield f"{field.key} = {value_text(field, chance)}"


def value_text(field: SettingField, chance: "atheris.FuzzedDataProvider") -> str:
    """A value as a job file writes it: one of the choices, a flag, a list, a number, or a short text."""
    choices = choices_of(field.type)
    if choices:
        return json.dumps(choices[chance.ConsumeIntInRange(0, len(choices) - 1)])
    if field.type is bool:
        return json.dumps(chance.ConsumeBool())
    if get_origin(field.type) is tuple or field.key == "tolerance":
        return str([number(item_setting(field), chance) for _ in range(chance.ConsumeIntInRange(1, 3))])
    if field.type is str or chance.ConsumeIntInRange(0, 5) == 1:
        return json.dumps(chance.ConsumeUnicodeNoSurrogates(8))
    return str(number(field.setting, chance, whole=int in (field.type, *get_args(field.type))))


def item_setting(field: SettingField) -> Setting:
    """The limits of one item of a list."""
    item = get_args(field.type)[0] if get_args(field.type) else None
    marks = get_args(item)[1:] if get_origin(item) is Annotated else ()
    return next((mark for mark in marks if isinstance(mark, Setting)), field.setting)


def number(setting: Setting, chance: "atheris.FuzzedDataProvider", *, whole: bool = False) -> float:
    """A number at a limit, near it, of an everyday size, or any at all."""
    low = setting.minimum if setting.minimum is not None else setting.above if setting.above is not None else -200.0
    high = setting.maximum if setting.maximum is not None else 1e6
    kind = chance.ConsumeIntInRange(0, 6)
    if whole:
        return int((low, high)[kind] if kind < 2 else chance.ConsumeIntInRange(int(low), int(min(high, low + 40))))
    if kind < 3:
        return (low, high, low - 1.0)[kind]
    if kind == 3:
        return float(chance.ConsumeRegularFloat())
    return low + float(chance.ConsumeIntInRange(0, 1000)) * (min(high, low + 200.0) - low) / 1000.0


def main() -> None:
    """Fuzz until libFuzzer has had enough."""
    warnings.simplefilter("error")
    results.load_libraries()
    start = ROOM / "seeds"
    start.mkdir()
    for count, content in enumerate([MORE.encode(), *(path.read_bytes() for path in sorted(MODELS.glob("*.toml")))]):
        (start / str(count)).write_bytes(bytes([count]) + content)
    for count, word in enumerate(("1.5in", "1:12", "610x2000", "A4", "ANSI C", "1e5", "mm", "block", "24in x 36in")):
        (start / f"word{count}").write_bytes(b"\0" + word.encode())
    chance = np.random.default_rng(1)
    for kind in range(len(HULLS)):
        first = STRUCTURED - STRUCTURED % len(HULLS) + len(HULLS) + kind
        for count in range(3):
            (start / f"hull{kind}-{count}").write_bytes(bytes([first]) + chance.bytes(400 * count))
    limits = ["-timeout=300", "-rss_limit_mb=2048", "-max_len=4096"]
    atheris.Setup([sys.argv[0], *limits, *sys.argv[1:], str(start)], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
