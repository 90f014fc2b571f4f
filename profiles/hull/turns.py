"""Turns about the axes of a file, as typed."""

import re

MOST_TURN = 90.0
"""Degrees; a body turned by as much stands along another axis of its file."""


def as_turn(value: object) -> object:
    """Text such as "z=10, y=-2" or "none", as it is. Raises ValueError."""
    if isinstance(value, str):
        turns_of(value)
        return value
    msg = f"expected turns in degrees such as 'z=10,y=-2', or 'none', found {value!r}"
    raise ValueError(msg)


def turns_of(text: str) -> tuple[tuple[str, float], ...]:
    """The turns in a text, each an axis of the file and degrees anticlockwise seen from its end. Raises ValueError."""
    if text.strip() == "none":
        return ()
    turns = []
    for part in text.split(","):
        match = re.fullmatch(r"\s*([xyz])\s*=\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*", part)
        if match is None:
            msg = f"expected turns in degrees such as 'z=10,y=-2', or 'none', found {text[:40]!r}"
            raise ValueError(msg)
        axis, degrees = match[1], float(match[2])
        if abs(degrees) >= MOST_TURN:
            msg = f"expected turns of less than {MOST_TURN:g} degrees, found {degrees:g} about {axis}; --up and "
            msg += "--length-axis choose other axes"
            raise ValueError(msg)
        turns.append((axis, degrees))
    return tuple(turns)
