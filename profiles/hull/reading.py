"""A hull file -> a hull: the modules of this package in order. Tables and drawings go through `line_reading`."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from profiles.errors import HullError
from profiles.hull.bodies import refuse_crumbs
from profiles.hull.formats.recognise import is_lines
from profiles.hull.frame import Hull, place
from profiles.hull.loading import load, printable_name
from profiles.hull.loose import leave_out_loose
from profiles.hull.repair import choose_bodies, repair_mesh
from profiles.hull.settings import ReadSettings
from profiles.setting import check_settings


def read(path: Path | str, settings: ReadSettings = ReadSettings()) -> Hull:
    """The hull in a mesh file, a table of offsets or a drawing of sections, repaired and in the hull frame (mm).

    Every change and guess stands in its notes.

    Raises JobError for settings out of range, HullError for a file that cannot be read or is over the limits, or a
    shape that cannot be used.

    >>> hull = read("models/skerrywing.stl")
    >>> hull.name, round(hull.length), hull.axes.length_axis, hull.axes.up
    ('skerrywing', 820, 'x', 'z')
    >>> hull.notes[0].kind
    <NoteKind.ASSUMPTION: 'assumption'>
    """
    check_settings(settings)
    path = Path(path)
    if is_lines(path.name):
        return _read_lines(path, settings)
    sized = settings.length is not None or settings.scale is not None
    raw = load(path, unit=settings.unit, sized=sized, limits=settings.limits)
    try:
        surface, repairs = repair_mesh(raw)
        nothing = np.zeros((0, 3))
        raw = replace(raw, vertices=nothing, faces=nothing.astype(np.int64))  # frees what the file held
        surface = choose_bodies(surface, settings.bodies)
        refuse_crumbs(surface)
        everything = settings.all_bodies or bool(settings.bodies)
        surface, left_out = (surface, ()) if everything else leave_out_loose(surface)
        return place(surface, raw, settings, (*raw.notes, *repairs, *left_out))
    except HullError as fault:
        msg = f"{printable_name(path.name)}: {fault.message}"
        raise HullError(msg, remedy=fault.remedy) from fault


def _read_lines(path: Path, settings: ReadSettings) -> Hull:
    """The hull of a table or a drawing; the modules for it are loaded here, since a mesh needs none of them."""
    from profiles.hull.line_reading import read_lines

    try:
        with np.errstate(all="ignore"):  # absurd figures become inf or nan, which are refused
            return read_lines(path, settings)
    except HullError as fault:
        msg = f"{printable_name(path.name)}: {fault.message}"
        raise HullError(msg, remedy=fault.remedy) from fault
