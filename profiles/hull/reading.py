"""A mesh file -> a hull: the rooms of this wing in their order."""

from pathlib import Path

from profiles.hull.frame import FrameOptions, Hull, check_options, place
from profiles.hull.limits import Limits
from profiles.hull.loading import load
from profiles.hull.mending import choose_bodies, clean


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
    raw = load(path, unit=unit, limits=limits)
    surface, mended = clean(raw)
    return place(choose_bodies(surface, options.bodies), raw, options, (*raw.notes, *mended))
