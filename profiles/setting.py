"""Descriptions of settings: each stage describes its settings once; job file, command line and report follow from that.

A settings class is a frozen dataclass whose fields are `Annotated[type, Setting(...)]`, with ordinary defaults.
`setting_fields(cls)` lists those fields. Text becomes mm here and nowhere else.
"""

import dataclasses
import numbers
import re
from collections.abc import Callable, Iterator
from enum import StrEnum
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from profiles.errors import JobError
from profiles.units import ALPHABET, LETTERED, Paper, length_mm, paper_named, unit_name
from profiles.values import dataclass

LONGEST = 100_000.0
"""mm; nobody cuts a foam body over 100 m, so a larger value is a typo or in the wrong unit."""

MAX_PLACES = 500
"""Largest number of breaks or gauges; nobody cuts so many by hand."""


@dataclass(frozen=True, slots=True)
class Setting:
    """Description of a setting, or of an item of it, apart from its name, type and default."""

    help: str = ""
    """One sentence for the command line and the page in the browser."""
    option: str = ""
    """As typed: "--foam", or "--solid/--as-is" for a flag; empty if only a job file can give it."""
    metavar: str = "MM"
    key: str = ""
    """Its name in a job file, if that differs from the name of the field."""
    parse: Callable[[object], object] | None = None
    """Turns text or a number, as typed, into a value; raises ValueError naming what was expected and what was found."""
    above: float | None = None
    """The value must be greater than this."""
    minimum: float | None = None
    maximum: float | None = None
    min_length: int | None = None
    max_length: int | None = None
    """In characters of a text, or items of a list."""
    lenient: bool = False
    """Accept integers for floats, and lists for tuples."""
    reported: bool = True
    """False for values that differ from machine to machine, such as file names."""


@dataclass(frozen=True, slots=True)
class SettingField:
    """A field of a settings class."""

    name: str
    type: Any
    """Its type with all annotations but the outermost Setting."""
    setting: Setting
    default: Any
    """`dataclasses.MISSING` if a value must be given."""

    @property
    def key(self) -> str:
        """Its name in a job file."""
        return self.setting.key or self.name


def setting_fields(settings: type) -> Iterator[SettingField]:
    """The fields of a settings class that have a description, in order; the others are not for the user."""
    hints = get_type_hints(settings, include_extras=True)
    for field in dataclasses.fields(settings):
        hint = hints[field.name]
        base, *notes = get_args(hint) if get_origin(hint) is Annotated else (hint,)
        setting = next((note for note in notes if isinstance(note, Setting)), None)
        if setting:
            yield SettingField(field.name, base, setting, field.default)


def reported_values(settings: Any) -> dict[str, Any]:  # noqa: ANN401 - any settings class
    """The values of settings that a report prints, by their keys in a job file."""
    fields = setting_fields(type(settings))
    return {field.key: getattr(settings, field.name) for field in fields if field.setting.reported}


def check_settings(*settings: Any) -> None:  # noqa: ANN401 - any settings classes
    """Raise JobError naming every value of a wrong type or outside its range, for settings not from a job file.

    >>> from profiles import BlockSettings
    >>> check_settings(BlockSettings(pin=0.1))
    Traceback (most recent call last):
    profiles.errors.JobError: pin: expected a value of 0.5 or more, found 0.1.
    """
    faults = [fault for group in settings for field in setting_fields(type(group)) for fault in _faults(group, field)]
    if faults:
        raise JobError("; ".join(faults) + ".")


def _faults(settings: Any, field: SettingField) -> Iterator[str]:  # noqa: ANN401 - any settings class
    value, setting = getattr(settings, field.name), field.setting
    choices = choices_of(field.type)
    if choices and value is not None and value not in choices:
        yield f"{field.key}: expected one of {', '.join(choices)}, found {value!r}"
    elif not has_type(value, field.type):
        yield f"{field.key}: expected {_type_words(field.type)}, found {value!r}"
    else:
        try:
            check_limits(value, setting)
        except ValueError as fault:
            yield f"{field.key}: {fault}"


def check_limits(value: object, setting: Setting) -> None:
    """Raise ValueError for a number out of its range, or a text or list that is too short or too long."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        for valid, limit in (
            (setting.above is None or value > setting.above, f"above {setting.above}"),
            (setting.minimum is None or value >= setting.minimum, f"of {setting.minimum} or more"),
            (setting.maximum is None or value <= setting.maximum, f"of {setting.maximum} or less"),
        ):
            if not valid:
                message = f"expected a value {limit}, found {value:g}"
                raise ValueError(message)
    elif isinstance(value, str | tuple | list) and not (
        (setting.min_length or 0) <= len(value) <= (setting.max_length or len(value))
    ):
        message = f"expected a length of {setting.min_length or 0} to {setting.max_length or 'any'}, found {len(value)}"
        raise ValueError(message)


def has_type(value: object, hint: Any) -> bool:  # noqa: ANN401 - a type
    """Whether a value has the type of a settings field; a list will do for a tuple, and any number for a float."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin in UNIONS:
        return any(has_type(value, option) for option in inner)
    if origin is Annotated:
        return has_type(value, inner[0])
    if origin is Literal:
        return value in inner
    if origin is tuple:
        return isinstance(value, tuple | list) and all(has_type(item, inner[0]) for item in value)
    if hint in NUMBERS:
        return isinstance(value, NUMBERS[hint]) and not isinstance(value, bool)
    return isinstance(value, hint)


NUMBERS: dict[type, type] = {float: numbers.Real, int: numbers.Integral}
"""What counts as a number of each type, those of numpy too."""


def _type_words(hint: Any) -> str:  # noqa: ANN401 - a type
    """A type in words for a message: "float or None"."""
    if get_origin(hint) in UNIONS:
        return " or ".join(_type_words(inner) for inner in get_args(hint))
    if get_origin(hint) is Annotated:
        return _type_words(get_args(hint)[0])
    if get_origin(hint) is Literal:
        return " or ".join(get_args(hint))
    if get_origin(hint) is tuple:
        return f"a tuple of {_type_words(get_args(hint)[0])}"
    return "None" if hint is NoneType else str(hint.__name__)


def choices_of(hint: Any) -> tuple[str, ...]:  # noqa: ANN401 - a type
    """The words of a Literal or a StrEnum, also of one that may be None; none for any other type."""
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
    """A number in mm, or text with a unit -> mm. Raises ValueError."""
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
    """The short name of a length unit ("metres" -> "m"). Raises ValueError."""
    return unit_name(value) if isinstance(value, str) else value


def as_paper(value: object) -> object:
    """A sheet from its name or its size. Raises ValueError."""
    if isinstance(value, Paper):
        return value
    if isinstance(value, str):
        return paper_named(value)
    msg = f"expected a paper such as 'A4' or '610x2000', found {value!r}"
    raise ValueError(msg)


def as_numbers(value: object) -> object:
    """Numbers in a list, or in text between commas or spaces -> a tuple without repeats, ascending. Raises ValueError.

    >>> as_numbers(["9, 7", 7]), as_numbers("8")
    ((7, 9), (8,))
    >>> as_numbers("K03")  # the third block of the part with the letter K
    (110003,)
    """
    items = value if isinstance(value, list | tuple) else [value]
    words = [word for item in items for word in str(item).replace(",", " ").split()]
    found = [re.fullmatch(r"([A-Z]?)0*([1-9]\d{,3})", word.upper()) for word in words]
    wrong = next((word for word, match in zip(words, found, strict=True) if match is None), None)
    if wrong is not None or not words:
        msg = f"expected numbers of blocks such as 7,9, found {wrong or ''!r}"
        raise ValueError(msg)
    letters = " " + ALPHABET
    return tuple(sorted({letters.index(match[1] or " ") * LETTERED + int(match[2]) for match in found if match}))


def as_point(value: object) -> object:
    """Three lengths -> mm: a list, or text with commas between. Raises ValueError.

    >>> as_point("120, 0, 1in"), as_point([120, 0, -5])
    ((120.0, 0.0, 25.4), (120.0, 0.0, -5.0))
    """
    parts = value.split(",") if isinstance(value, str) else value
    if not isinstance(parts, list | tuple) or len(parts) != 3:  # noqa: PLR2004 - x, y, z
        msg = f"expected three lengths such as 120,0,15 (x, y, z), found {value!r}"
        raise ValueError(msg)
    return tuple(as_length(part.strip() if isinstance(part, str) else part) for part in parts)


def length_setting(
    help: str,  # noqa: A002 - as the field is called
    option: str = "",
    *,
    key: str = "",
    above: float | None = None,
    minimum: float | None = None,
    maximum: float = LONGEST,
) -> Setting:
    """The description of a length in mm."""
    return Setting(help, option, key=key, parse=as_length, above=above, minimum=minimum, maximum=maximum)


Length = Annotated[float, Setting(parse=as_length)]
"""mm; for use inside another type."""

Place = Annotated[float, Setting(parse=as_length, minimum=-LONGEST, maximum=LONGEST)]
"""mm from the nose."""
