"""A mesh file -> a hull: the rooms of this wing in their order."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from profiles.errors import HullError
from profiles.hull.bodies import refuse_crumbs
from profiles.hull.frame import FrameOptions, Hull, check_options, place
from profiles.hull.limits import Limits
from profiles.hull.loading import load, shown
from profiles.hull.repair import choose_bodies, repair_mesh


def read_hull(
    path: Path,
    *,
    unit: str | None = None,
    options: FrameOptions | None = None,
    limits: Limits = Limits(),  # noqa: B008 - immutable
) -> Hull:
    """The hull in a mesh file, mended and in the hull frame (mm); every change and guess stands in its notes.

    unit overrides the file's. Raises JobError for options that contradict each other, HullError for a file that cannot
    be read or is over the limits, or a shape that cannot be used.
    """
    options = options or FrameOptions()
    check_options(options)
    sized = options.length is not None or options.scale is not None
    raw = load(path, unit=unit, sized=sized, limits=limits)
    try:
        surface, repairs = repair_mesh(raw)
        nothing = np.zeros((0, 3))
        raw = replace(raw, vertices=nothing, faces=nothing.astype(np.int64))  # what the file held is needed no more
        surface = choose_bodies(surface, options.bodies)
        refuse_crumbs(surface)
        return place(surface, raw, options, (*raw.notes, *repairs))
    except HullError as fault:
        msg = f"{shown(path.name)}: {fault.message}"
        raise HullError(msg, remedy=fault.remedy) from fault
