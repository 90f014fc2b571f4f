"""The round scales of reduced drawings, so that you can measure a drawing with a rule."""

from profiles.errors import PaperError

_SMALL = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)
_LARGE = (10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 75.0)

RATIOS = (*_SMALL, *_LARGE, *(10 * ratio for ratio in _LARGE), 1000.0)
"""mm of foam for 1 mm on paper."""


def ratio_for(size: tuple[float, float], room: tuple[float, float], least: float = 1.0) -> float:
    """The scale of the largest drawing of a `size` (mm) that fits a `room` (mm), 5 for 1:5, but at least `least`.

    Raises PaperError if even the smallest drawing does not fit.
    """
    for ratio in RATIOS:
        if ratio >= least and size[0] / ratio <= room[0] and size[1] / ratio <= room[1]:
            return ratio
    msg = (
        f"A drawing of {size[0]:.0f} x {size[1]:.0f} mm does not fit on {room[0]:.0f} x {room[1]:.0f} mm, not even at "
        f"1:{RATIOS[-1]:g}."
    )
    raise PaperError(msg, remedy="Use a larger paper.")


def scale_words(ratio: float) -> str:
    """The scale in words, like "1:5"."""
    return f"1:{ratio:g}"
