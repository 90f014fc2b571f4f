"""The strips and billets that a question to the solver may choose from: all there are, or those that were found."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from profiles.foam.bound import Column, Strip
from profiles.foam.layers import FIT
from profiles.foam.patterns import Pattern, Task, fits, patterns_into, strip_lays
from profiles.foam.strips import shortest_lays

MOST_LOOKED_AT = 20_000
"""Ways to fill one piece that are considered before a job counts as too large for all of them."""

MOST_WAYS = 4000
"""Ways to cut that are put into one question; the solver answers in seconds up to here."""

MOST_LAYS = 12
"""With more ways for a blank to lie there are too many ways to fill a strip, and they are not counted."""

LIKELY_FORMS = 4
"""Formats that a question is narrowed to where there are too many ways."""

LIKELY_STRIPS = 120
"""Strips, likewise."""

MOST_BESIDE = 100
"""Ways to put strips side by side in one format, likewise; with more only those seen in columns."""


@dataclass(frozen=True, slots=True)
class Ways:
    """Ways to cut, for each format; empty for formats that are left out."""

    strips: tuple[tuple[Strip, ...], ...]
    across: tuple[tuple[Pattern, ...], ...]
    """(strip width by its place in `Task.widths`, how many)."""
    every: bool
    """True: no plan needs another way."""

    @property
    def many(self) -> int:
        """How many in all."""
        return sum(map(len, self.strips)) + sum(map(len, self.across))


def every_way(task: Task, forms: Iterable[int], *, full: bool) -> Ways | None:
    """All ways to cut these formats, or only the `full` ones, to which nothing can be added; None for too many."""
    chosen = set(forms)
    if len(task.lays) > MOST_LAYS:
        return None
    strips: list[tuple[Strip, ...]] = []
    across: list[tuple[Pattern, ...]] = []
    many = 0
    known: dict[tuple[object, ...], tuple[Strip, ...] | None] = {}
    for n, form in enumerate(task.formats):
        if n not in chosen:
            strips.append(())
            across.append(())
            continue
        key = (form.length, tuple(strip_lays(task, form, form.width)))
        if key not in known:
            known[key] = _strips(task, n, full=full)
        own = known[key]
        beside = None if own is None else _across(task, n, {strip.width for strip in own}, full=full)
        if own is None or beside is None:
            return None
        many += len(own) + len(beside)
        if many > MOST_WAYS:
            return None
        strips.append(own)
        across.append(beside)
    return Ways(tuple(strips), tuple(across), every=True)


def _strips(task: Task, form: int, *, full: bool) -> tuple[Strip, ...] | None:
    foam_format = task.formats[form]
    wanted = [0] * len(task.footprints)
    for size in task.sizes:
        wanted[size.footprint] += len(size.blocks)
    found = []
    for n, width in enumerate(task.widths):
        if width > foam_format.width + FIT:
            break
        lays = strip_lays(task, foam_format, width)
        lays = shortest_lays(task, lays) if full else lays
        if not any(task.lays[lay].across == width for lay in lays):
            continue
        sizes = [task.lays[lay].along for lay in lays]
        caps = [wanted[task.lays[lay].footprint] for lay in lays]
        patterns = patterns_into(sizes, caps, foam_format.length, task.kerf, MOST_LOOKED_AT)
        if patterns is None:
            return None
        for counts in patterns:
            pattern = tuple((lay, many) for lay, many in zip(lays, counts, strict=True) if many)
            widest = any(task.lays[lay].across == width for lay, _ in pattern)
            if widest and not (full and _more_fits(sizes, caps, counts, foam_format.length, task.kerf)):
                found.append(Strip(n, pattern))
    return tuple(found)


def _more_fits(sizes: Sequence[float], caps: Sequence[int], counts: Sequence[int], room: float, kerf: float) -> bool:
    left = room + kerf - sum((size + kerf) * many for size, many in zip(sizes, counts, strict=True))
    return any(size + kerf <= left + FIT and many < cap for size, cap, many in zip(sizes, caps, counts, strict=True))


def _across(task: Task, form: int, widths: Iterable[int], *, full: bool) -> tuple[Pattern, ...] | None:
    room, blocks = task.formats[form].width, sum(len(size.blocks) for size in task.sizes)
    order = sorted(widths, reverse=True)
    sizes, caps = [task.widths[n] for n in order], [blocks] * len(order)
    patterns = patterns_into(sizes, caps, room, task.kerf, MOST_LOOKED_AT)
    if patterns is None:
        return None
    return tuple(
        tuple(sorted((n, many) for n, many in zip(order, counts, strict=True) if many))
        for counts in patterns
        if not (full and _more_fits(sizes, caps, counts, room, task.kerf))
    )


def found_ways(task: Task, columns: Sequence[Column], forms: Iterable[int] | None = None) -> Ways:
    """The ways that columns cut, the first columns first, for these formats or those that columns have.

    A strip is offered to every format that is long enough for it.
    """
    chosen = list(dict.fromkeys(column.form for column in columns))[:LIKELY_FORMS] if forms is None else list(forms)
    pool = list(dict.fromkeys(strip for column in columns for strip, _ in column.strips))[:LIKELY_STRIPS]
    strips: list[tuple[Strip, ...]] = []
    across: list[tuple[Pattern, ...]] = []
    for n, form in enumerate(task.formats):
        if n not in chosen:
            strips.append(())
            across.append(())
            continue
        lays = set(strip_lays(task, form, form.width))
        own = [
            strip
            for strip in pool
            if task.widths[strip.width] <= form.width + FIT
            and all(lay in lays for lay, _ in strip.lays)
            and fits(task, strip.lays, form.length, strip=True)
        ]
        own.sort(key=lambda strip: (strip.width, strip.lays))
        strips.append(tuple(own))
        beside = _across(task, n, {strip.width for strip in own}, full=True)
        if beside is None or len(beside) > MOST_BESIDE:
            beside = ()
        across.append(tuple(dict.fromkeys((*beside, *_seen(task, n, columns[:MOST_BESIDE])))))
    return Ways(tuple(strips), tuple(across), every=False)


def _seen(task: Task, form: int, columns: Sequence[Column]) -> tuple[Pattern, ...]:
    """The strip widths that stood side by side in columns, as far as they fit."""
    room = task.formats[form].width
    seen: dict[Pattern, None] = {}
    for column in columns:
        widths: dict[int, int] = {}
        for strip, many in column.strips:
            widths[strip.width] = widths.get(strip.width, 0) + many
        pattern = tuple(sorted(widths.items()))
        if fits(task, pattern, room, strip=False):
            seen[pattern] = None
    return tuple(sorted(seen))
