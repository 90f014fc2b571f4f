"""How a setting is described, once: the settings of the stages carry it; job file, command line, report follow from it.

A settings class is a frozen dataclass whose fields are `Annotated[type, Setting(...)]`. Its default is the field's own.
`described(cls)` lists those fields. Text becomes mm here and nowhere else.
"""

import dataclasses
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from profiles.errors import JobError
from profiles.units import Paper, length_mm, paper_named, unit_name

LONGEST = 100_000.0
"""mm; nobody cuts a foam body over 100 m, so a larger figure is a slip."""

MOST_PLACES = 500
"""Breaks or gauges; nobody cuts so many by hand."""


@dataclass(frozen=True, slots=True)
class Setting:
    """Description of a setting, or of one item of it, besides its name, type and default."""

    help: str = ""
    """One sentence for the command line and the page in the browser."""
    option: str = ""
    """As typed: "--foam", or "--solid/--as-is" for a flag; empty where only a job file can give it."""
    metavar: str = "MM"
    key: str = ""
    """Its name in a job file, where that differs from the field's."""
    parse: Callable[[object], object] | None = None
    """Text or number as typed -> value; raises ValueError saying what was expected and what was found."""
    above: float | None = None
    """The value must be greater than this."""
    least: float | None = None
    most: float | None = None
    longest: int | None = None
    """Characters of a text, or items of a list."""
    shortest: int | None = None
    loose: bool = False
    """Whole numbers for fractions, and lists for tuples, are taken too."""
    reported: bool = True
    """False for what differs from machine to machine, such as file names."""


@dataclass(frozen=True, slots=True)
class Described:
    """One field of a settings class."""

    name: str
    type: Any
    """With all annotations but the outermost Setting."""
    setting: Setting
    default: Any
    """`dataclasses.MISSING` where a value must be given."""

    @property
    def key(self) -> str:
        """Its name in a job file."""
        return self.setting.key or self.name


def described(settings: type) -> Iterator[Described]:
    """The described fields of a settings class, in order; other fields are not the user's."""
    hints = get_type_hints(settings, include_extras=True)
    for field in dataclasses.fields(settings):
        hint = hints[field.name]
        marks = (
            [mark for mark in get_args(hint)[1:] if isinstance(mark, Setting)] if get_origin(hint) is Annotated else []
        )
        if marks:
            yield Described(field.name, get_args(hint)[0], marks[0], field.default)


def figures_of(settings: Any) -> dict[str, Any]:  # noqa: ANN401 - any settings class
    """The reported values of settings by their keys in a job file."""
    return {one.key: getattr(settings, one.name) for one in described(type(settings)) if one.setting.reported}


def check(*settings: Any) -> None:  # noqa: ANN401 - any settings classes
    """Raises JobError naming every value that is out of its range; for settings that no job file has been through."""
    faults = [fault for one in settings for field in described(type(one)) for fault in _faults(one, field)]
    if faults:
        raise JobError("; ".join(faults) + ".")


def _faults(settings: Any, field: Described) -> Iterator[str]:  # noqa: ANN401 - any settings class
    value, setting = getattr(settings, field.name), field.setting
    choices = choices_of(field.type)
    if choices and value is not None and value not in choices:
        yield f"{field.key}: expected one of {', '.join(choices)}, found {value!r}"
    if isinstance(value, int | float) and not isinstance(value, bool):
        for holds, words in (
            (setting.above is None or value > setting.above, f"above {setting.above}"),
            (setting.least is None or value >= setting.least, f"of {setting.least} or more"),
            (setting.most is None or value <= setting.most, f"of {setting.most} or less"),
        ):
            if not holds:
                yield f"{field.key}: expected a value {words}, found {value:g}"
                return


def choices_of(hint: Any) -> tuple[str, ...]:  # noqa: ANN401 - a type
    """The words of a Literal, also where there may be None instead; none for any other type."""
    if get_origin(hint) is Literal:
        return tuple(get_args(hint))
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return tuple(hint)
    if get_origin(hint) not in UNIONS:
        return ()
    words = [choices_of(inner) for inner in get_args(hint) if inner is not NoneType]
    return tuple(word for inner in words for word in inner) if all(words) else ()


UNIONS = (Union, UnionType)


def as_length(value: object) -> object:
    """A number in mm, or text with a unit -> mm. Raises ValueError.

    >>> from profiles import BlockSettings
    >>> check(BlockSettings(pin=0.1))
    Traceback (most recent call last):
    profiles.errors.JobError: pin: expected a value of 0.5 or more, found 0.1.
    """
    if isinstance(value, str | int | float):
        return length_mm(value)
    msg = f"expected a length such as 40 or '1.5in', found {value!r}"
    raise ValueError(msg)


def as_scale(value: object) -> object:
    """Text such as "1:12" -> 1/12; a bare number is the factor itself. Raises ValueError."""
    if isinstance(value, str):
        match = re.fullmatch(r"\s*([\d.]+)\s*[:/]\s*([\d.]+)\s*", value)
        if match is None or not float(match[2]):
            msg = f"expected a scale such as '1:12', found {value!r}"
            raise ValueError(msg)
        return float(match[1]) / float(match[2])
    return value


def as_unit(value: object) -> object:
    """The short name of a length unit. Raises ValueError."""
    return unit_name(value) if isinstance(value, str) else value


def as_paper(value: object) -> object:
    """A sheet by its name or size. Raises ValueError."""
    if isinstance(value, Paper):
        return value
    if isinstance(value, str):
        return paper_named(value)
    msg = f"expected a paper such as 'A4' or '610x2000', found {value!r}"
    raise ValueError(msg)


Length = Annotated[float, Setting(parse=as_length)]
"""mm, where it stands within another type."""

Place = Annotated[float, Setting(parse=as_length, least=-LONGEST, most=LONGEST)]
"""mm from the nose."""
