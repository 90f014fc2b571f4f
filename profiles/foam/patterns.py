"""Cutting patterns: how a strip is filled with blanks, and a billet with strips, each without regard to order.

A search with the solver chooses from a `PatternSet`: all patterns if there are few enough, else those of the columns
that the relaxation made.
"""

import math
from collections import Counter
from collections.abc import Iterable, Sequence

from profiles.foam.layers import ROUNDING
from profiles.foam.task import Format, Pattern, Task
from profiles.values import dataclass

MAX_PATTERNS_PER_PIECE = 20_000
"""Largest number of ways to fill one strip or billet to go through before a job counts as too large for all of them."""

MAX_PATTERNS = 4000
"""Largest number of patterns in one program; up to here the solver answers in seconds."""

MAX_ORIENTATIONS = 12
"""With more orientations there are too many ways to fill a strip, and they are not enumerated."""

LIKELY_FORMATS = 4
"""Number of formats to keep if there are too many patterns."""

LIKELY_STRIPS = 120
"""Number of strip patterns to keep in that case."""

LIKELY_BILLETS = 100
"""Number of billet patterns of one format to keep in that case; if there are more, only those of the columns."""


@dataclass(frozen=True, slots=True)
class StripPattern:
    """A way to fill a strip: the index of its width in `Task.widths`, and its blanks by orientation."""

    width: int
    blanks: Pattern


@dataclass(frozen=True, slots=True)
class Column:
    """A way to cut a billet of one kind."""

    format: int
    kind: int
    strips: tuple[tuple[StripPattern, int], ...]
    """(pattern, how many)."""
    gives: Pattern
    """(block size, how many)."""

    @property
    def widths(self) -> Pattern:
        """Its strips as a billet pattern."""
        counts: Counter[int] = Counter()
        for strip, count in self.strips:
            counts[strip.width] += count
        return make_pattern(counts)


@dataclass(frozen=True, slots=True)
class PatternSet:
    """Patterns for each format; empty for formats that are left out."""

    strips: tuple[tuple[StripPattern, ...], ...]
    billets: tuple[tuple[Pattern, ...], ...]
    """(strip width, how many)."""
    complete: bool
    """True if no plan needs another pattern."""

    def with_columns(self, columns: Iterable[Column]) -> "PatternSet":
        """These patterns and those of the columns."""
        strips, billets = [dict.fromkeys(some) for some in self.strips], [dict.fromkeys(some) for some in self.billets]
        for column in columns:
            strips[column.format] |= dict.fromkeys(strip for strip, _ in column.strips)
            billets[column.format][column.widths] = None
        return PatternSet(tuple(map(tuple, strips)), tuple(map(tuple, billets)), self.complete)


def make_pattern(counts: Counter[int]) -> Pattern:
    """The pattern with these counts."""
    return tuple(sorted((n, count) for n, count in counts.items() if count > 0))


def max_pieces(length: float, size: float, kerf: float) -> int:
    """How many pieces of one size a length gives, with a kerf between them; mm."""
    return max(0, math.floor((length + kerf + ROUNDING) / (size + kerf)))


def shortest_orientations(task: Task, orientations: Sequence[int]) -> list[int]:
    """For each footprint, only the orientation that takes less length of the strip."""
    best: dict[int, int] = {}
    for n in orientations:
        footprint = task.orientations[n].footprint
        if footprint not in best or task.orientations[n].along < task.orientations[best[footprint]].along:
            best[footprint] = n
    return [n for n in orientations if best[task.orientations[n].footprint] == n]


def all_patterns(task: Task, formats: Iterable[int], *, full: bool) -> PatternSet | None:
    """All patterns for some formats, or only the `full` ones, to which no piece can be added; None if too many."""
    chosen = set(formats)
    if len(task.orientations) > MAX_ORIENTATIONS:
        return None
    strips: list[tuple[StripPattern, ...]] = [()] * len(task.formats)
    billets: list[tuple[Pattern, ...]] = [()] * len(task.formats)
    total = 0
    known: dict[tuple[object, ...], tuple[StripPattern, ...] | None] = {}
    for n, fmt in enumerate(task.formats):
        if n not in chosen:
            continue
        key = (fmt.length, tuple(task.strip_orientations(fmt, fmt.width)))
        if key not in known:
            known[key] = _strip_patterns(task, fmt, full=full)
        strip_patterns = known[key]
        if strip_patterns is None:
            return None
        billet_patterns = _billet_patterns(task, fmt, {strip.width for strip in strip_patterns}, full=full)
        if billet_patterns is None:
            return None
        total += len(strip_patterns) + len(billet_patterns)
        if total > MAX_PATTERNS:
            return None
        strips[n], billets[n] = strip_patterns, billet_patterns
    return PatternSet(tuple(strips), tuple(billets), complete=True)


def _strip_patterns(task: Task, fmt: Format, *, full: bool) -> tuple[StripPattern, ...] | None:
    """All ways to fill strips, each with at least one blank as wide as the strip; None if too many."""
    blanks = [0] * len(task.footprints)
    for size, count in zip(task.sizes, task.demand, strict=True):
        blanks[size.footprint] += count
    patterns = []
    for width_index, width in enumerate(task.widths):
        if width > fmt.width + ROUNDING:
            break
        orientations = task.strip_orientations(fmt, width)
        orientations = shortest_orientations(task, orientations) if full else orientations
        widest = {n for n in orientations if task.orientations[n].across == width}
        if not widest:
            continue
        lengths = [task.orientations[n].along for n in orientations]
        limits = [blanks[task.orientations[n].footprint] for n in orientations]
        fillings = _fillings(lengths, limits, fmt.length, task.kerf, full=full)
        if fillings is None:
            return None
        for counts in fillings:
            pattern = tuple((n, count) for n, count in zip(orientations, counts, strict=True) if count)
            if any(n in widest for n, _ in pattern):
                patterns.append(StripPattern(width_index, pattern))
    return tuple(patterns)


def _billet_patterns(task: Task, fmt: Format, widths: Iterable[int], *, full: bool) -> tuple[Pattern, ...] | None:
    """All ways to put strips of these widths side by side; None if too many."""
    order = sorted(widths, reverse=True)
    sizes, limits = [task.widths[n] for n in order], [sum(task.demand)] * len(order)
    fillings = _fillings(sizes, limits, fmt.width, task.kerf, full=full)
    if fillings is None:
        return None
    return tuple(make_pattern(Counter(dict(zip(order, counts, strict=True)))) for counts in fillings)


def _fillings(
    sizes: Sequence[float], limits: Sequence[int], length: float, kerf: float, *, full: bool
) -> list[tuple[int, ...]] | None:
    """Every non-empty choice of pieces that fits a length, as counts, or only those to which no piece can be added.

    Sizes in mm with a kerf between pieces; at most `limits` of each. None if too many.
    """
    choices: list[tuple[int, ...]] = []

    def extend(n: int, counts: tuple[int, ...], left: float) -> bool:
        if n == len(sizes):
            if any(counts):
                choices.append(counts)
            return len(choices) <= MAX_PATTERNS_PER_PIECE
        step = sizes[n] + kerf
        most = min(limits[n], int((left + ROUNDING) // step)) if step > 0 else limits[n]
        return all(extend(n + 1, (*counts, count), left - count * step) for count in range(most, -1, -1))

    def can_add(counts: tuple[int, ...]) -> bool:
        left = length + kerf - sum((size + kerf) * count for size, count in zip(sizes, counts, strict=True))
        return any(
            size + kerf <= left + ROUNDING and count < limit
            for size, limit, count in zip(sizes, limits, counts, strict=True)
        )

    if not extend(0, (), length + kerf):
        return None
    return [counts for counts in choices if not (full and can_add(counts))]


def patterns_of(task: Task, columns: Sequence[Column], formats: Iterable[int] | None = None) -> PatternSet:
    """The patterns of columns, the first columns first, for some formats or else for those of the columns.

    A strip pattern is offered to every format that is large enough for it.
    """
    if formats is None:
        formats = list(dict.fromkeys(column.format for column in columns))[:LIKELY_FORMATS]
    pool = list(dict.fromkeys(strip for column in columns for strip, _ in column.strips))[:LIKELY_STRIPS]
    strips: list[tuple[StripPattern, ...]] = [()] * len(task.formats)
    billets: list[tuple[Pattern, ...]] = [()] * len(task.formats)
    lengths = [orientation.along for orientation in task.orientations]
    for n in formats:
        fmt = task.formats[n]
        orientations = set(task.strip_orientations(fmt, fmt.width))
        strip_patterns = [
            strip
            for strip in pool
            if task.widths[strip.width] <= fmt.width + ROUNDING
            and all(orientation in orientations for orientation, _ in strip.blanks)
            and _fits(lengths, strip.blanks, fmt.length, task.kerf)
        ]
        strips[n] = tuple(sorted(strip_patterns, key=lambda strip: (strip.width, strip.blanks)))
        enumerated = _billet_patterns(task, fmt, {strip.width for strip in strip_patterns}, full=True)
        if enumerated is None or len(enumerated) > LIKELY_BILLETS:
            enumerated = ()
        seen = {column.widths for column in columns[:LIKELY_BILLETS]}
        fitting = sorted(pattern for pattern in seen if _fits(task.widths, pattern, fmt.width, task.kerf))
        billets[n] = tuple(dict.fromkeys((*enumerated, *fitting)))
    return PatternSet(tuple(strips), tuple(billets), complete=False)


def _fits(sizes: Sequence[float], pattern: Pattern, length: float, kerf: float) -> bool:
    """Whether the pieces of a pattern fit a length with a kerf between them; mm."""
    return sum((sizes[n] + kerf) * count for n, count in pattern) <= length + kerf + ROUNDING
