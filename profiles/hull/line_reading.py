"""A table of offsets or a drawing of sections -> a hull: the chain for hulls without a mesh."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from profiles.arrays import Floats
from profiles.hull.axes import Axes
from profiles.hull.drawn_lines import drawn_lines
from profiles.hull.fairing import FairLine
from profiles.hull.formats.offsets import read_offsets
from profiles.hull.formats.section_drawing import read_drawing
from profiles.hull.frame import Hull
from profiles.hull.frames import Frame
from profiles.hull.loading import LARGEST_PLAUSIBLE, SMALLEST_PLAUSIBLE, load_bytes, printable_name, size_words
from profiles.hull.lofted_shape import LoftedShape, loft
from profiles.hull.sections import Side
from profiles.hull.settings import ReadSettings
from profiles.hull.table_lines import Lines, table_lines
from profiles.hull.trial_sections import STATIONS, TrialSection, datum_height
from profiles.notes import Note, assumption, warning
from profiles.setting import setting_fields
from profiles.units import MM_PER_UNIT, unit_name

USED = {"unit", "length", "scale", "nose", "datum", "max_triangles", "max_bytes"}
"""Settings of a hull that mean something without a mesh."""

GAUSS = 8
"""Sections for the volume between two frames: exact for areas that are polynomials of degree 15 in x."""


def read_lines(path: Path, settings: ReadSettings) -> Hull:
    """The hull that a table (.csv) or a drawing (.svg) describes, in the hull frame; what was assumed is in its notes.

    Raises HullError without the file's name.
    """
    form, name, data = load_bytes(path, settings.limits)
    if form == "SVG":
        lines, unit, unit_from = drawn_lines(read_drawing(data)), "mm", "file"
    else:
        table = read_offsets(data, None if settings.unit is None else unit_name(settings.unit))
        lines, unit = table_lines(table), table.unit
        unit_from = "option" if settings.unit else "file" if table.declared else "assumed"
    notes = [*lines.notes, *_left_out(settings, form)]
    placed, nose = _place(lines, settings, notes)
    shape = _raise(placed, loft(placed.frames, placed.borders, placed.corners), settings)
    low, high = shape.bounds
    length, breadth, depth = (high - low).tolist()
    notes = [*_unit_notes(high - low, unit, unit_from, settings), *notes]
    return Hull(
        name=(lines.name and printable_name(lines.name)) or name,
        format=form,
        unit=unit,
        unit_from=unit_from,
        shape=shape,
        length=length,
        breadth=breadth,
        depth=depth,
        lowest=float(low[2]),
        body_count=1,
        void_count=0,
        triangles=0,
        volume=volume_of(shape),
        volume_from="sections",
        axes=Axes("x", "z", nose),
        notes=tuple(notes),
    )


def _left_out(settings: ReadSettings, form: str) -> list[Note]:
    """A warning about settings that only a mesh needs; a drawing is in mm anyway."""
    used = USED - {"unit"} if form == "SVG" else USED
    given = [
        field.setting.option.split(" ")[-1].split("/")[0]
        for field in setting_fields(ReadSettings)
        if field.name not in used and getattr(settings, field.name) != field.default
    ]
    if not given:
        return []
    what = "drawing" if form == "SVG" else "table"
    return [warning(f"{', '.join(given)} means nothing for a {what} and was left out")]


def _place(lines: Lines, settings: ReadSettings, notes: list[Note]) -> tuple[Lines, str]:
    """The lines with the nose at x = 0, in their final size, and the end of the file's x where the nose is."""
    nose = settings.nose
    if nose is None:
        flat = [float(lines.frames[end].points[:, 0].max()) > 0 for end in (0, -1)]
        nose = "high" if flat[0] and not flat[1] else "low"
        end = "first" if nose == "low" else "last"
        reason = "the other one is cut off flat" if flat[0] != flat[1] else "stations are counted from the bow"
        other = "low" if nose == "high" else "high"
        notes.append(assumption(f"the nose is at the {end} station: {reason}. Override with --nose {other}."))
    first, last = lines.frames[0].x, lines.frames[-1].x
    factor = settings.scale or 1.0
    if settings.length is not None:
        factor = settings.length / (last - first)
    start, way = (first, factor) if nose == "low" else (last, -factor)
    return _transform(lines, start, way), nose


def _transform(lines: Lines, start: float, way: float) -> Lines:
    """The lines with x = `start` moved to 0 and scaled; `way` below zero turns the hull end for end."""
    factor = abs(way)
    order = 1 if way > 0 else -1
    frames = tuple(
        Frame((frame.x - start) * way + 0.0, frame.points * factor, frame.knots * factor, frame.knuckles * factor)
        for frame in lines.frames[::order]
    )
    borders = tuple(
        None
        if line is None
        else np.column_stack([(line[:, 0] - start) * way, line[:, 1:3] * factor, line[:, 3]])[::order]
        for line in lines.borders
    )
    return replace(
        lines,
        frames=frames,
        borders=borders,
        corners=tuple((x - start) * way for x in lines.corners),
        stations=tuple(sorted((x - start) * way for x in lines.stations)),
        waterlines=tuple(z * factor for z in lines.waterlines),
        buttocks=tuple(y * factor for y in lines.buttocks),
    )


def _raise(lines: Lines, shape: LoftedShape, settings: ReadSettings) -> LoftedShape:
    """The shape with its datum at z = 0, and the stations and waterlines of its lines."""
    low, high = shape.bounds
    datum = settings.datum
    if datum is None:
        places = np.linspace(low[0], high[0], STATIONS + 2)[1:-1].tolist()
        regions = [shape.section(x, Side.AFT).region for x in places]
        trials = [TrialSection(x, region, region.area) for x, region in zip(places, regions, strict=True)]
        datum = datum_height(trials, float(low[2]), float(high[2] - low[2]))
    move = -datum - float(low[2])
    lift = np.array([0.0, 0.0, move])
    return replace(
        shape,
        points=shape.points + lift,
        borders=tuple(None if line is None else _lift(line, lift) for line in shape.borders),
        bounds=(low + lift, high + lift),
        drawn=(lines.stations, tuple(z + move for z in lines.waterlines), lines.buttocks),
    )


def _lift(line: FairLine, lift: Floats) -> FairLine:
    return replace(line, points=line.points + lift)


def volume_of(shape: LoftedShape) -> float:
    """Volume in mm3, from GAUSS sections between neighbouring frames."""
    places, weights = np.polynomial.legendre.leggauss(GAUSS)
    total = 0.0
    for fore, aft in zip(shape.x[:-1].tolist(), shape.x[1:].tolist(), strict=True):
        middle, half = (fore + aft) / 2, (aft - fore) / 2
        areas = [shape.section(middle + half * place, Side.AFT).region.area for place in places.tolist()]
        total += half * float(weights @ areas)
    return total


def _unit_notes(extents: Floats, unit: str, unit_from: str, settings: ReadSettings) -> list[Note]:
    size = size_words(extents)
    notes = []
    if unit_from == "assumed":
        text = f"The table names no unit and was read in mm: {size}. Override with --unit in, or with a row unit,in"
        notes.append(assumption(text))
    longest = float(extents.max())
    sized = settings.length is not None or settings.scale is not None
    if not sized and not SMALLEST_PLAUSIBLE <= longest <= LARGEST_PLAUSIBLE:
        way = "Set the size with --length or --scale" if unit in MM_PER_UNIT else "Give the scale, such as --scale 1:12"
        notes.append(
            warning(f"A longest side of {longest:.5g} mm is implausible for a body cut out of foam ({size}). {way}.")
        )
    return notes
