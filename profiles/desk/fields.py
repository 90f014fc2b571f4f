"""Settings as the page shows them: one entry for each key of a job file, made from the descriptions of the stages."""

import dataclasses
from enum import StrEnum
from types import NoneType
from typing import Annotated, Any, get_args, get_origin

from profiles.job import MANY, OPTIONAL, PARTS
from profiles.jobfile import DEFAULTS
from profiles.setting import (
    UNIONS,
    SettingField,
    as_length,
    as_numbers,
    as_paper,
    as_scale,
    choices_of,
    setting_fields,
)
from profiles.units import Paper

HIDDEN = frozenset({("hull", "file"), ("output", "folder")})
"""Keys of a job file that the page does not set: the file is dropped, and nothing is written into a folder."""

NOT_HERE = frozenset({"markings"})
"""Parts that name files of this machine, which the page never opens."""

UNITS = {
    "V": "V",
    "C": "degC",
    "AWG": "AWG",
    "G": "g",
    "G/M2": "g/m2",
    "KG/M3": "kg/m3",
    "SHARE": "share",
}
"""Words for a value on the command line -> the unit beside the field."""

MORE_UNITS = {
    ("hull", "turn"): "degrees",
    ("loads", "weight"): "g",
    ("cutting", "seconds"): "s",
    ("body", "ballast"): "mm",
    ("water", "gravity"): "mm",
    ("loads", "x"): "mm",
    ("loads", "y"): "mm",
    ("loads", "z"): "mm",
}
"""Units of keys whose description does not say them."""

LABELS = {
    "odd": "Odd blocks",
    "breaks": "Stations at",
    "most": "Most to sand",
    "fit": "Fewest blocks within",
    "built": "Blocks glued already",
    "built_length": "Their length",
    "as_measured": "Stations by measured boards",
    "min_block": "Thinnest block",
    "solid": "Fill to a solid plug",
    "bridge": "Close gaps up to",
    "narrowest": "Narrowest hole cut by wire",
    "datum": "Datum above the lowest point",
    "missing": "Foam that may be missing",
    "marks": "Distance of marks",
    "gauges": "Gauges at",
    "size": "Paper",
    "bar_across": "100 mm bar across measures",
    "bar_up": "100 mm bar up measures",
    "kerf_test": "Kerf test block measures",
    "nose": "Nose at",
    "up": "Up axis",
    "mirror": "Mirror half hull",
}
"""Labels that say more than the key; all others are the key in words."""


WORDS = {("foam", "most"): ("none",), ("template", "growth"): ("varying", "block", "none"), ("hull", "turn"): ("none",)}
"""Words that do instead of a figure."""


def all_parts() -> list[dict[str, Any]]:
    """The parts of a job in the order of the job file, each with its fields."""
    return [
        {
            "part": part,
            "many": part in MANY,
            "optional": part in OPTIONAL,
            "fields": [
                _field(part, settings, field) for field in setting_fields(settings) if (part, field.key) not in HIDDEN
            ],
        }
        for part, settings in PARTS.items()
        if part not in NOT_HERE
    ]


def _field(part: str, settings: type, field: SettingField) -> dict[str, Any]:
    setting = field.setting
    default = DEFAULTS.get((settings, field.name), field.default)
    kind = _kind(field)
    return {
        "part": part,
        "key": field.key,
        "label": LABELS.get(field.key) or field.key.replace("_", " ").capitalize(),
        "help": setting.help,
        "kind": kind,
        "unit": _unit(part, field, kind),
        "default": None if default is dataclasses.MISSING else _plain(default),
        "choices": [str(choice) for choice in choices_of(field.type)],
        "words": list(WORDS.get((part, field.key), ())),
        "above": setting.above,
        "minimum": setting.minimum,
        "maximum": setting.maximum,
        "optional": default is not dataclasses.MISSING,
        "many": kind in {"lengths", "integers"},
        "option": setting.option.split(" ")[-1].split("/")[0],
    }


def _plain(value: Any) -> Any:  # noqa: ANN401 - any default
    if isinstance(value, Paper):
        return value.name
    if isinstance(value, StrEnum):
        return str(value)
    return list(value) if isinstance(value, tuple) else value


def _unit(part: str, field: SettingField, kind: str) -> str:
    if (part, field.key) in MORE_UNITS:
        return MORE_UNITS[part, field.key]
    if kind in {"length", "lengths"}:
        return "mm"
    return UNITS.get(field.setting.metavar, "")


def _kind(field: SettingField) -> str:
    """How a value is typed: a length, a number, yes or no, one of several words, and so on."""
    hint, parse, key = field.type, field.setting.parse, field.key
    plain = _plain_types(hint)
    kinds = (
        ("choice", bool(choices_of(hint))),
        ("length", key in {"most", "growth"}),  # or a word: WORDS
        ("text", parse is as_scale),
        ("paper", parse is as_paper),
        (_kind_of_tuple(hint, parse), any(get_origin(inner) is tuple for inner in (hint, *get_args(hint)))),
        ("yesno", bool in plain),
        ("length", parse is as_length or (float in plain and key in PLAIN_LENGTHS)),
        ("number", float in plain),
        ("integer", int in plain),
    )
    return next((kind for kind, applies in kinds if applies), "text")


PLAIN_LENGTHS = frozenset({"length", "width", "thickness", "measured", "x", "y", "z"})
"""Keys of tables whose figures are lengths."""


def _kind_of_tuple(hint: Any, parse: Any) -> str:  # noqa: ANN401 - a type, a function
    if parse is as_numbers or int in _plain_types(hint):
        return "integers"
    inner = next((item for item in (hint, *get_args(hint)) if get_origin(item) is tuple), hint)
    return "lengths" if Ellipsis in get_args(inner) else {2: "pair", 3: "triple"}.get(len(get_args(inner)), "lengths")


def _plain_types(hint: Any) -> list[Any]:  # noqa: ANN401 - a type
    """The types within a union, a tuple or an annotation."""
    if get_origin(hint) is Annotated:
        return _plain_types(get_args(hint)[0])
    if get_origin(hint) in UNIONS or get_origin(hint) is tuple:
        return [plain for inner in get_args(hint) if inner not in {NoneType, Ellipsis} for plain in _plain_types(inner)]
    return [hint]
