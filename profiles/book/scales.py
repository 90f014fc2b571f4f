"""Reduced drawings keep to round scales, so that a rule can be laid on them, and say which."""

from profiles.errors import PaperError

_SMALL = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)
_LARGE = (10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0)

RATIOS = (*_SMALL, *_LARGE, *(10 * ratio for ratio in _LARGE), 1000.0)
"""1 mm on paper for so many mm of foam."""


def ratio_for(size: tuple[float, float], room: tuple[float, float], least: float = 1.0) -> float:
    """The largest drawing of a `size` (mm) that has room (mm): 5 for 1:5; `least` keeps small things reduced.

    Raises PaperError where even the smallest drawing has no room.
    """
    for ratio in RATIOS:
        if ratio >= least and size[0] / ratio <= room[0] and size[1] / ratio <= room[1]:
            return ratio
    msg = f"expected room for a drawing of {size[0]:.0f} x {size[1]:.0f} mm, found {room[0]:.0f} x {room[1]:.0f} mm"
    raise PaperError(msg, remedy="Take a larger paper.")


def scale_words(ratio: float) -> str:
    """Like "1:5"."""
    return f"1:{ratio:g}"
