"""The job: everything a build is asked for, from a TOML file and from options; all faults at once, with their path.

A Job holds values in mm and nothing else; no file is read here but the job file itself.
"""

from collections.abc import Mapping
from dataclasses import MISSING
from functools import cache
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, Union, get_args, get_origin

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PrivateAttr,
    ValidationError,
    create_model,
    model_validator,
)

from profiles.errors import JobError, WordsError
from profiles.foam.stock import Board
from profiles.foam.wire import WireSettings, wire_figures
from profiles.job import PARTS, Job
from profiles.setting import UNIONS, Setting, described

MOST_BOARDS = 200
"""Kinds of boards; more is a warehouse and a slip."""


class _Part(BaseModel):
    """One part as it stands in a job file; `settings` are those it gives."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True)
    made: ClassVar[type]
    names: ClassVar[dict[str, str]]
    _settings: Any = PrivateAttr()

    @model_validator(mode="after")
    def _check(self) -> "_Part":
        try:
            self._settings = self.made(**{name: getattr(self, key) for key, name in self.names.items()})
            if isinstance(self._settings, WireSettings):
                wire_figures(self._settings)  # a wire that cannot be is refused before the hull is read
        except JobError as fault:
            raise ValueError(str(fault)) from None
        return self

    @property
    def settings(self) -> Any:  # noqa: ANN401 - of the class `made`
        return self._settings


def _model(made: type) -> type[_Part]:
    """The check of one part of a job file, from the settings class that it gives."""
    fields: dict[str, Any] = {}
    for field in described(made):
        default = field.default
        if default is MISSING:
            default = DEFAULTS.get((made, field.name), ...)
        fields[field.key] = (_checked(Annotated[field.type, field.setting]), default)
    model = create_model(made.__name__, __base__=_Part, **fields)
    model.made, model.names = made, {field.key: field.name for field in described(made)}
    return model


DEFAULTS: dict[tuple[type, str], object] = {(Board, "name"): "", (Board, "count"): None}
"""What may be left out in a job file though the settings themselves ask for it."""


def _checked(hint: Any) -> Any:  # noqa: ANN401 - a type
    """A type whose `Setting` annotations are put as pydantic takes them."""
    if get_origin(hint) is Annotated:
        inner, *marks = get_args(hint)
        result = _checked(inner)
        for mark in marks:
            result = _limited(result, mark)
        return result
    if get_origin(hint) is tuple:
        return tuple[tuple(_checked(item) for item in get_args(hint))]  # type: ignore[misc]
    return hint


def _limited(hint: Any, setting: Setting) -> Any:  # noqa: ANN401 - a type
    limits: dict[str, Any] = {
        "gt": setting.above,
        "ge": setting.least,
        "le": setting.most,
        "min_length": setting.shortest,
    }
    limits |= {"max_length": setting.longest, "strict": False if setting.loose else None}
    given = {word: value for word, value in limits.items() if value is not None}
    optional = type(None) in get_args(hint)
    members = get_args(hint) if get_origin(hint) in UNIONS else (hint,)
    # Limits are those of a number, not of the words that may stand for it.
    bare = [
        Annotated[item, Field(**given)] if given and get_origin(item) is not Literal else item
        for item in members
        if item is not type(None)
    ]
    result: Any = Union[tuple(bare)]  # noqa: UP007
    result = result | None if optional else result
    return Annotated[result, BeforeValidator(setting.parse)] if setting.parse else result


@cache
def _whole() -> type[BaseModel]:
    """The check of a whole job file; made once, since making it takes longer than a check."""
    fields: dict[str, Any] = {}
    for part, made in PARTS.items():
        model = _model(made)
        if made is Board:
            fields[part] = (Annotated[tuple[model, ...], Field(strict=False, max_length=MOST_BOARDS)], ())  # type: ignore[valid-type]
        else:
            fields[part] = (model, ... if part == "hull" else model())
    return create_model("JobFile", __config__=_Part.model_config, **fields)


def _job_of(tree: dict[str, Any]) -> Job:
    """Raises ValidationError with all faults."""
    checked = _whole().model_validate(tree)
    values: dict[str, Any] = {}
    for part in PARTS:
        value = getattr(checked, part)
        values[part] = tuple(one.settings for one in value) if isinstance(value, tuple) else value.settings
    return Job(**values)


Words = Mapping[tuple[str, str], Any]
"""What the command line said: (part, key) of the job -> value."""


def job_from(source: Path, words: Words | None = None, options: Mapping[tuple[str, str], str] | None = None) -> Job:
    """The job in a TOML file, or the job for a hull file with defaults; `words` of the command line override both.

    `options` gives the option's name for messages. File names in a job file count from that file's folder.
    Raises WordsError when a word of the command line is among the faults, JobError otherwise; either lists all faults.
    """
    said = {key: value for key, value in (words or {}).items() if value is not None and value != ()}
    if source.suffix.lower() == ".toml":
        tree = _from_file(source)
        _resolve(tree, source.parent)
    else:
        tree = {"hull": {"file": str(source)}}
    for (part, key), value in said.items():
        section = tree.setdefault(part, {})
        if isinstance(section, dict):
            section[key] = value
            _drop_rival(section, key, said)
    try:
        return _job_of(tree)
    except ValidationError as fault:
        raise _error_of(fault, source, said, options or {}) from None


def _drop_rival(section: dict[str, Any], key: str, said: Words) -> None:
    """A size on the command line replaces the other way to say it in the file."""
    rivals = {"length": "scale", "scale": "length", "kerf": "kerf_test", "kerf_test": "kerf"}
    rivals |= {"gauge": "diameter", "diameter": "gauge"}
    rival = rivals.get(key)
    if rival and all(rival != other for _, other in said):
        section.pop(rival, None)


MOST_JOB_BYTES = 1_000_000
"""A job file is a page of text; a larger file is something else."""


def _from_file(source: Path) -> dict[str, Any]:
    import tomllib  # noqa: PLC0415 - a hull file needs no TOML

    try:
        if source.stat().st_size > MOST_JOB_BYTES:
            message = f"{source} is {source.stat().st_size:,} bytes long; a job file is a page of text"
            raise JobError(message, remedy="Name the job file, not the hull.")
        text = source.read_bytes().decode("utf-8-sig")
        if _longest_key(text) > LONGEST_KEY:
            message = f"{source}: a key has more than {LONGEST_KEY} parts with dots between them"
            raise JobError(message, remedy="The README shows a whole job file.")
        return _depth_checked(tomllib.loads(text), source)
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
        message = f"{source}: not valid TOML: {_shortened(str(fault))}"
        raise JobError(message, remedy="Correct that place. The README shows a whole job file.") from None


LONGEST_KEY = 50
"""Parts of a dotted key; the library that reads TOML takes memory by the square of them. A job needs two."""


def _longest_key(text: str) -> int:
    """Parts of the longest dotted key, as far as that shows without reading TOML."""
    keys = (line.split("=", 1)[0] for line in text.splitlines() if not line.lstrip().startswith("#"))
    return max((key.count(".") + 1 for key in keys), default=0)


DEEPEST = 6
"""Tables and lists in one another; a job has four at most."""


def _depth_checked(tree: dict[str, Any], source: Path) -> dict[str, Any]:
    """The tree, if it is no deeper than any job; what is deeper would break whatever walks through it."""
    level: list[Any] = [tree]
    for _ in range(DEEPEST):
        level = [
            inner
            for value in level
            for inner in (value.values() if isinstance(value, dict) else value)
            if isinstance(inner, dict | list)
        ]
    if level:
        message = f"{source}: not valid TOML for a job: tables or lists are nested more than {DEEPEST} deep"
        raise JobError(message, remedy="The README shows a whole job file.")
    return tree


LONGEST_WORDS = 80
"""Characters of what was found that a message repeats."""


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_WORDS else f"{text[:LONGEST_WORDS]}... ({len(text)} characters)"


LONGEST_SENTENCE = 300
"""Characters of a fault; one that repeats a long value is cut off."""

MOST_FAULTS = 40
"""Faults that a message lists; it counts the others."""


def _resolve(tree: dict[str, Any], folder: Path) -> None:
    for part, key in (("hull", "file"), ("output", "folder")):
        section = tree.get(part)
        if isinstance(section, dict) and isinstance(section.get(key), str) and section[key]:
            section[key] = str(folder / section[key])


def _error_of(
    fault: ValidationError, source: Path, said: Words, options: Mapping[tuple[str, str], str]
) -> JobError | WordsError:
    lines, from_words = [], False
    for error in fault.errors(include_url=False):
        place = tuple(str(step) for step in error["loc"])
        key = (place[0], place[1]) if len(place) > 1 else None
        if key is None and place and error["type"] == "value_error":
            spoken = [option for option in said if option[0] == place[0] and option[1] in error["msg"]]
            key = spoken[0] if spoken else None
        if key is not None and key in said:
            from_words = True
            lines.append(f"{options.get(key, '.'.join(key))}: {_sentence(error)}")
        else:
            lines.append(f"{source.name}: {_shortened('.'.join(place))}: {_sentence(error)}")
    unique = list(dict.fromkeys(lines))
    listed = [*unique[:MOST_FAULTS], *([f"and {len(unique) - MOST_FAULTS} more"] if len(unique) > MOST_FAULTS else [])]
    message = unique[0] if len(unique) == 1 else f"{len(unique)} faults:\n  " + "\n  ".join(listed)
    kind = WordsError if from_words else JobError
    return kind(message)


def _sentence(error: Any) -> str:  # noqa: ANN401 - pydantic's own dictionary
    """What was expected and what was found."""
    kind, found = error["type"], error.get("input")
    if kind == "extra_forbidden":
        return "unknown key"
    if kind == "missing":
        return "missing"
    if kind == "value_error":
        text = str(error["ctx"]["error"])
        return text if len(text) <= LONGEST_SENTENCE else f"{text[:LONGEST_SENTENCE]}..."
    text = str(error["msg"]).removeprefix("Input should be ").removeprefix("Input ")
    return f"expected {text}, found {_shortened(repr(found))}"
