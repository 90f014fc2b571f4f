"""Aerofoils: NACA four digits by formula, or a file of two columns x and y.

A contour is closed, (n, 2) of the chord: it begins at the trailing edge, goes forward along the upper side to the
leading edge at the origin, and back along the lower side; the trailing edge is at (1, 0) or straddles it.
"""

import math
from pathlib import Path

import numpy as np
from shapely import Polygon

from profiles.arrays import Floats
from profiles.cuts.settings import DIGITS
from profiles.errors import JobError
from profiles.notes import Note, assumption, repair
from profiles.values import dataclass

STEPS = 120
"""Points along each side of an aerofoil by formula, closer together towards the nose: at a chord of 300 mm the straight
lines between them are within 0.01 mm of the curve."""

FEWEST = 10
"""Points of a file; fewer are no aerofoil."""

MOST_BYTES = 1_000_000
"""A file of an aerofoil is a page of numbers."""

OPEN = 0.05
"""Of the chord; a trailing edge that is open by more than this is no trailing edge."""

AT_ORIGIN = 0.01
"""Of the chord; a file whose foremost point is this near to the origin has its leading edge there."""

SAME_POINT = 1e-9
"""Of the chord; points nearer together than this are one."""

PERCENT = 1.5
"""Chords; x beyond this is given in other units than chords, and is scaled."""


@dataclass(frozen=True, slots=True)
class Aerofoil:
    """An aerofoil of chord 1."""

    name: str
    contour: Floats
    """(n, 2); see the head of the module."""
    notes: tuple[Note, ...] = ()


def aerofoil_of(word: str) -> Aerofoil:
    """The aerofoil of four digits, or that of a file. Raises JobError for a file that holds none."""
    digits = DIGITS.fullmatch(word.strip())
    if digits:
        return Aerofoil(f"NACA {''.join(digits.groups())}", naca(*(int(digit) for digit in digits.groups())))
    return _from_file(Path(word))


def naca(camber: int, place: int, thickness: int) -> Floats:
    """The contour (n, 2) of NACA four digits: camber in hundredths at `place` tenths of the chord, and the thickness in
    hundredths (Jacobs, Ward and Pinkerton 1933, NACA Report 460).

    >>> float(naca(0, 0, 12)[:, 1].max().round(4))
    0.06
    """
    x = (1 - np.cos(np.linspace(0.0, np.pi, STEPS))) / 2
    t = thickness / 100
    half = 5 * t * (0.2969 * np.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4)
    m, p = camber / 100, place / 10
    line, slope = np.zeros_like(x), np.zeros_like(x)
    if m and p:
        fore = x < p
        line = np.where(fore, m / p**2 * (2 * p * x - x**2), m / (1 - p) ** 2 * (1 - 2 * p + 2 * p * x - x**2))
        slope = np.where(fore, 2 * m / p**2 * (p - x), 2 * m / (1 - p) ** 2 * (p - x))
    angle = np.arctan(slope)
    upper = np.column_stack([x - half * np.sin(angle), line + half * np.cos(angle)])
    lower = np.column_stack([x + half * np.sin(angle), line - half * np.cos(angle)])
    return np.concatenate([upper[::-1], lower[1:]])


def _from_file(path: Path) -> Aerofoil:
    points, name = _read(path)
    notes = []
    points = _without_counts(points)
    if len(points) < FEWEST:
        message = f"{path.name}: expected at least {FEWEST} points of an aerofoil, found {len(points)}"
        raise JobError(message, remedy="Give a file of two columns, x and y.")
    ordered, order = _ordered(points, path.name)
    origin = ordered[int(np.argmin(ordered[:, 0]))]
    chord = float(ordered[[0, -1], 0].max() - origin[0])
    if np.hypot(*origin) < AT_ORIGIN * chord:  # the foremost point of a cambered aerofoil is not its leading edge
        origin, chord = np.zeros(2), float(ordered[[0, -1], 0].mean())
    scaled = (ordered - origin) / chord
    gap = float(np.hypot(*(scaled[0] - scaled[-1])))
    if gap > OPEN:
        message = f"{path.name}: the trailing edge is open by {gap:.1%} of the chord"
        raise JobError(message, remedy="Give both sides from leading edge to trailing edge.")
    text = f"{path.name}: {len(scaled)} points, {order}"
    if chord > PERCENT or chord < 1 / PERCENT:
        text += f", given in {chord:g} to the chord"
    notes.append(assumption(text))
    if gap:
        notes.append(repair(f"{path.name}: the trailing edge, {gap:.2%} of the chord thick, is closed straight"))
    scaled = scaled[np.hypot(*(scaled - np.roll(scaled, 1, axis=0)).T) > SAME_POINT]
    if not Polygon(scaled).is_valid:
        message = f"{path.name}: the line through the points crosses itself"
        raise JobError(message, remedy="Put the points in order along the outline.")
    return Aerofoil(name or path.stem, scaled, tuple(notes))


def _read(path: Path) -> tuple[Floats, str]:
    """The numbers of a file (n, 2), and the name in its first line."""
    try:
        if path.stat().st_size > MOST_BYTES:
            message = f"{path.name}: {path.stat().st_size:,} bytes are no aerofoil"
            raise JobError(message, remedy="Give a file of two columns, x and y.")
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except OSError as fault:
        message = f"the aerofoil file {path} cannot be read: {fault.strerror}"
        raise JobError(
            message, remedy="Give the name of a file beside the job file, or four digits such as 2412."
        ) from None
    except UnicodeDecodeError:
        message = f"{path.name}: expected text with two columns, found other bytes"
        raise JobError(message, remedy="Save the points as plain text.") from None
    rows: list[list[float]] = []
    name = ""
    for number, line in enumerate(lines, start=1):
        words = line.replace(",", " ").replace(";", " ").split()
        if not words:
            continue
        try:
            row = [float(word) for word in words]
        except ValueError:
            if not rows and not name:
                name = line.strip()[:40]
                continue
            message = f"{path.name}, line {number}: expected two numbers, found {line.strip()[:40]!r}"
            raise JobError(message, remedy="Only the first line may hold a name.") from None
        if len(row) != 2 or not all(math.isfinite(value) for value in row):  # noqa: PLR2004 - x and y
            message = f"{path.name}, line {number}: expected x and y, found {line.strip()[:40]!r}"
            raise JobError(message, remedy="Give two columns of finite numbers.")
        rows.append(row)
    return np.reshape(np.array(rows, dtype=np.float64), (-1, 2)), name


def _without_counts(points: Floats) -> Floats:
    """The points without a first row that counts those of the two sides."""
    if len(points) > FEWEST and abs(points[0].sum() - (len(points) - 1)) < 0.5 and points[0].min() > PERCENT:  # noqa: PLR2004
        return points[1:]
    return points


def _ordered(points: Floats, name: str) -> tuple[Floats, str]:
    """The points from the trailing edge over the upper side to the nose and back, and how they stood in the file."""
    x = points[:, 0]
    back = np.flatnonzero(np.diff(x) < -np.ptp(x) / 2)
    if len(back) == 1:  # two sides, each from the nose to the tail
        first, second = points[: back[0] + 1], points[back[0] + 1 :]
        line, order = (
            np.concatenate([first[::-1], second[1:] if np.allclose(first[0], second[0]) else second]),
            "side by side",
        )
    else:
        line, order = points, "round from the trailing edge"
    if np.allclose(line[0], line[-1]) and line[0][0] < x.min() + np.ptp(x) / 2:  # round from the nose
        tail = int(np.argmax(line[:, 0]))
        line, order = np.concatenate([line[tail:-1], line[: tail + 1]]), "round from the leading edge"
    nose = int(np.argmin(line[:, 0]))
    backwards = max(
        float(np.diff(line[: nose + 1, 0]).max(initial=0.0)), float(-np.diff(line[nose:, 0]).min(initial=0.0))
    )
    if backwards > np.ptp(x) / 100 or nose in {0, len(line) - 1}:
        message = f"{name}: the points do not run from the trailing edge to the leading edge and back"
        raise JobError(message, remedy="Put them in order along the outline, or each side from its leading edge.")
    area = float(np.sum(line[:, 0] * np.roll(line[:, 1], -1) - line[:, 1] * np.roll(line[:, 0], -1)))
    return (line if area > 0 else line[::-1]), order
