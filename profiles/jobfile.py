"""A TOML file and options of the command line -> Job.

Only the job file itself is read here, no hull. Where anything is at fault, `jobfaults` checks it all again and reports
every fault at once, each with its path.
"""

import contextlib
from collections.abc import Mapping, Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

from profiles.cuts.settings import DIGITS
from profiles.errors import JobError
from profiles.foam.stock import Board
from profiles.foam.wire import WireSettings, wire_figures
from profiles.job import MANY, PARTS, Job
from profiles.setting import UNIONS, check_limits, check_settings, has_type, setting_fields
from profiles.units import PrintUnit

MAX_ITEMS = 200
"""Largest number of kinds of boards, or of loads; more is a mistake."""


DEFAULTS: dict[tuple[type, str], object] = {(Board, "name"): "", (Board, "count"): None}
"""What a job file may leave out although the settings class needs it."""


Overrides = Mapping[tuple[str, str], Any]
"""Values from the command line: (part, key) of the job -> value."""


def load_job(
    source: Path, overrides: Overrides | None = None, options: Mapping[tuple[str, str], str] | None = None
) -> Job:
    """The job in a TOML file, or the job for a hull file with defaults, with the values of the command line.

    `options` gives the name of each option for messages. File names in a job file are relative to its folder.
    Raises WordsError if a value of the command line is among the faults, else JobError; either lists all faults.
    """
    given = {key: value for key, value in (overrides or {}).items() if value is not None and value != ()}
    if source.suffix.lower() == ".toml":
        tree = _read_toml(source)
        _resolve_paths(tree, source.parent)
    else:
        tree = {"hull": {"file": str(source)}}
    for (part, key), value in given.items():
        if part in MANY:
            _add_items(tree, part, value)
            continue
        section = tree.setdefault(part, {})
        if isinstance(section, dict):
            section[key] = value
            if all(ALTERNATIVES.get(key) != other for _, other in given):
                section.pop(ALTERNATIVES.get(key), None)
    return job_of(tree, source, given, options)


def job_of(
    tree: dict[str, Any],
    source: Path,
    given: Overrides | None = None,
    options: Mapping[tuple[str, str], str] | None = None,
) -> Job:
    """The job in a tree of tables, as a job file holds it; messages name `source`.

    `given` are the values of the tree that the command line gave. Inches change the defaults in the tree itself. Raises
    as `load_job`.
    """
    _set_inch_defaults(tree)
    try:
        return _make_job(tree)
    except (JobError, ValueError, TypeError, LookupError, AttributeError):
        from profiles.jobfaults import checked_job  # pydantic is slow to import

        return checked_job(tree, source, given or {}, options or {})


def read_tree(source: Path) -> dict[str, Any]:
    """The tables of a job file as they stand there, unchecked. Raises JobError for text that is not a job."""
    return _read_toml(source)


def _add_items(tree: dict[str, Any], part: str, items: Sequence[dict[str, Any]]) -> None:
    """Add tables to a list of tables; one that is in the list already, by its name, is replaced in its place."""
    listed = tree.setdefault(part, [])
    if not isinstance(listed, list):
        return
    names = [item.get("name") if isinstance(item, dict) else None for item in listed]
    for item in items:
        if item["name"] in names:
            listed[names.index(item["name"])] = item
        else:
            listed.append(item)


def _make_job(tree: Mapping[str, Any]) -> Job:
    """The job in a tree of tables. Raises any error where something is at fault, or is left to `jobfaults`."""
    values: dict[str, Any] = {}
    for part, section in tree.items():
        settings = PARTS[part]
        if part not in MANY:
            values[part] = _make_settings(settings, section)
        elif len(section) <= MAX_ITEMS:
            values[part] = tuple(_make_settings(settings, item) for item in section)
    if values.keys() != tree.keys():
        raise ValueError(tree)
    return Job(**values)


def _make_settings(settings: type, section: Mapping[str, Any]) -> Any:  # noqa: ANN401 - of the settings class
    fields = {field.key: field for field in setting_fields(settings)}
    values = {name: default for (owner, name), default in DEFAULTS.items() if owner is settings}
    values |= {
        fields[key].name: _convert(value, Annotated[fields[key].type, fields[key].setting])
        for key, value in section.items()
    }
    made = settings(**values)
    check_settings(made)
    if isinstance(made, WireSettings):
        wire_figures(made)  # refuse a wire that is not valid before the hull is read
    return made


def _convert(value: Any, hint: Any) -> Any:  # noqa: ANN401 - of any type, a type
    """A value as a settings class holds it: parsed, lists as tuples, integers as floats, words as members."""
    if get_origin(hint) is Annotated:
        inner, *settings = get_args(hint)
        for setting in reversed(settings):
            value = setting.parse(value) if setting.parse else value
        value = _convert(value, inner)
        for setting in settings:
            check_limits(value, setting)
        return value
    if isinstance(value, str):
        value.encode()  # raises ValueError for a file name in no encoding
    if get_origin(hint) is tuple:
        if not isinstance(value, list | tuple):
            raise TypeError(value)
        return tuple(_convert(item, get_args(hint)[0]) for item in value)
    if get_origin(hint) in UNIONS:
        return _convert_to_any(value, get_args(hint))
    if hint is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    return hint(value) if isinstance(hint, type) and issubclass(hint, StrEnum) else value


def _convert_to_any(value: Any, hints: Sequence[Any]) -> Any:  # noqa: ANN401 - as above
    """The value as the first of several types that takes it. Raises ValueError where none does."""
    for hint in hints:
        with contextlib.suppress(ValueError, TypeError):
            converted = _convert(value, hint)
            if has_type(converted, hint):
                return converted
    raise ValueError(value)


INCH_DEFAULTS = {("paper", "size"): "Letter", ("template", "box_step"): "0.25in"}
"""(part, key) of a job whose lengths are printed in inches -> what it gets where it says nothing."""


def _set_inch_defaults(tree: dict[str, Any]) -> None:
    output = tree.get("output")
    if not isinstance(output, dict) or output.get("units") != PrintUnit.IN:
        return
    for (part, key), value in INCH_DEFAULTS.items():
        section = tree.setdefault(part, {})
        if isinstance(section, dict):
            section.setdefault(key, value)


ALTERNATIVES = {"length": "scale", "kerf": "kerf_test", "gauge": "diameter", "waterline": "weight"}
ALTERNATIVES |= {"skin_density": "skin_weight"}
ALTERNATIVES |= {second: first for first, second in ALTERNATIVES.items()}
"""Two ways to give the same thing; one of them on the command line replaces the other in the file."""

MAX_JOB_BYTES = 1_000_000
"""A job file is a page of text; a larger file is something else."""

MAX_KEY_PARTS = 50
"""Parts of a dotted key; the TOML reader's memory grows with the square of their number. A job needs two."""

MAX_DEPTH = 6
"""Tables and lists inside each other; a job has four at most."""


def _read_toml(source: Path) -> dict[str, Any]:
    import tomllib  # a hull file needs no TOML

    try:
        if source.stat().st_size > MAX_JOB_BYTES:
            message = f"{source} is {source.stat().st_size:,} bytes long; a job file is a page of text"
            raise JobError(message, remedy="Name the job file, not the hull.")
        text = source.read_bytes().decode("utf-8-sig")
        if _count_key_parts(text) > MAX_KEY_PARTS:
            message = f"{source}: a key has more than {MAX_KEY_PARTS} parts with dots between them"
            raise JobError(message, remedy="The README shows a whole job file.")
        tree = tomllib.loads(text)
    except FileNotFoundError:
        message = f"there is no job file {source}"
        raise JobError(message, remedy="Check the name and the folder.") from None
    except OSError as fault:
        message = f"the job file {source} cannot be read: {fault.strerror}"
        raise JobError(message, remedy="Check the file.") from None
    except UnicodeDecodeError as fault:
        message = f"{source}: expected text in UTF-8, found another byte at position {fault.start}"
        raise JobError(message, remedy="Save the file as UTF-8.") from None
    except (ValueError, RecursionError) as fault:
        message = f"{source}: not valid TOML: {shorten(str(fault))}"
        raise JobError(message, remedy="Correct that place. The README shows a whole job file.") from None
    if _is_deeper(tree, MAX_DEPTH):
        message = f"{source}: not valid TOML for a job: tables or lists are nested more than {MAX_DEPTH} deep"
        raise JobError(message, remedy="The README shows a whole job file.")
    return tree


def _count_key_parts(text: str) -> int:
    """Parts of the longest dotted key, as far as can be seen without reading TOML."""
    keys = (line.split("=", 1)[0] for line in text.splitlines() if not line.lstrip().startswith("#"))
    return max((key.count(".") + 1 for key in keys), default=0)


def _is_deeper(tree: dict[str, Any], depth: int) -> bool:
    """Whether tables and lists are nested deeper than this; recursion over such a tree would fail."""
    level: list[Any] = [tree]
    for _ in range(depth):
        level = [
            inner
            for value in level
            for inner in (value.values() if isinstance(value, dict) else value)
            if isinstance(inner, dict | list)
        ]
    return bool(level)


def _resolve_paths(tree: dict[str, Any], folder: Path) -> None:
    for part, key in (("hull", "file"), ("output", "folder")):
        section = tree.get(part)
        if isinstance(section, dict) and isinstance(section.get(key), str) and section[key]:
            section[key] = str(folder / section[key])
    markings = tree.get("markings")
    for marking in markings if isinstance(markings, list) else []:
        if isinstance(marking, dict) and isinstance(marking.get("file"), str) and marking["file"]:
            marking["file"] = str(folder / marking["file"])
    for item in tree["cutouts"] if isinstance(tree.get("cutouts"), list) else ():
        word = item.get("aerofoil") if isinstance(item, dict) else None
        if isinstance(word, str) and word and not DIGITS.fullmatch(word.strip()):
            item["aerofoil"] = str(folder / word)


MAX_VALUE_TEXT = 80
"""Characters of a value that a message repeats."""


def shorten(text: str) -> str:
    """A value as a message repeats it."""
    return text if len(text) <= MAX_VALUE_TEXT else f"{text[:MAX_VALUE_TEXT]}... ({len(text)} characters)"
