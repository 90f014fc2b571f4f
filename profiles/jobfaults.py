"""Check a job file with pydantic and describe all its faults at once, each with its path.

Loaded only for a job in which something is at fault: pydantic takes longer to load than a small hull takes to read.
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
from profiles.foam.wire import WireSettings, wire_figures
from profiles.job import MANY, OPTIONAL, PARTS, Job
from profiles.jobfile import DEFAULTS, MAX_ITEMS, Overrides, shorten
from profiles.setting import UNIONS, Setting, setting_fields


class _Part(BaseModel):
    """A part of a job file, and the settings made from it."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True)
    settings_class: ClassVar[type]
    names: ClassVar[dict[str, str]]
    """Key in the job file -> field of the settings class."""
    _settings: Any = PrivateAttr()

    @model_validator(mode="after")
    def _check(self) -> "_Part":
        try:
            self._settings = self.settings_class(**{name: getattr(self, key) for key, name in self.names.items()})
            if isinstance(self._settings, WireSettings):
                wire_figures(self._settings)  # refuse a wire that is not valid before the hull is read
        except JobError as fault:
            raise ValueError(str(fault)) from None
        return self

    @property
    def settings(self) -> Any:  # noqa: ANN401 - of the settings class
        return self._settings


def _part_model(settings: type) -> type[_Part]:
    """The model that checks a part of a job file, from its settings class."""
    fields: dict[str, Any] = {}
    for field in setting_fields(settings):
        default = field.default
        if default is MISSING:
            default = DEFAULTS.get((settings, field.name), ...)
        fields[field.key] = (_pydantic_type(Annotated[field.type, field.setting]), default)
    model = create_model(settings.__name__, __base__=_Part, **fields)
    model.settings_class, model.names = settings, {field.key: field.name for field in setting_fields(settings)}
    return model


def _pydantic_type(hint: Any) -> Any:  # noqa: ANN401 - a type
    """The type with its `Setting` annotations translated for pydantic."""
    if get_origin(hint) is Annotated:
        inner, *settings = get_args(hint)
        result = _pydantic_type(inner)
        for setting in settings:
            result = _add_limits(result, setting)
        return result
    if get_origin(hint) is tuple:
        return tuple[tuple(_pydantic_type(item) for item in get_args(hint))]  # type: ignore[misc]
    return hint


def _add_limits(hint: Any, setting: Setting) -> Any:  # noqa: ANN401 - a type
    limits: dict[str, Any] = {
        "gt": setting.above,
        "ge": setting.minimum,
        "le": setting.maximum,
        "min_length": setting.min_length,
        "max_length": setting.max_length,
        "strict": False if setting.lenient else None,
    }
    given = {name: value for name, value in limits.items() if value is not None}
    optional = type(None) in get_args(hint)
    members = get_args(hint) if get_origin(hint) in UNIONS else (hint,)
    # A member of a union that is a word, such as "none", has no limits.
    limited = [
        Annotated[item, Field(**given)] if given and get_origin(item) is not Literal else item
        for item in members
        if item is not type(None)
    ]
    result: Any = Union[tuple(limited)]  # noqa: UP007
    result = result | None if optional else result
    return Annotated[result, BeforeValidator(setting.parse)] if setting.parse else result


@cache
def _job_model() -> type[BaseModel]:
    """The model that checks a whole job file; made once, because making it takes longer than a check."""
    fields: dict[str, Any] = {}
    for part, settings in PARTS.items():
        model = _part_model(settings)
        if part in MANY:
            fields[part] = (Annotated[tuple[model, ...], Field(strict=False, max_length=MAX_ITEMS)], ())  # type: ignore[valid-type]
        elif part in OPTIONAL:
            fields[part] = (model | None, None)
        else:
            fields[part] = (model, ... if part == "hull" else model())
    return create_model("JobFile", __config__=_Part.model_config, **fields)


def _make_job(tree: dict[str, Any]) -> Job:
    """Raise ValidationError with all faults."""
    checked = _job_model().model_validate(tree)
    values: dict[str, Any] = {}
    for part in PARTS:
        value = getattr(checked, part)
        if value is not None:
            values[part] = tuple(item.settings for item in value) if isinstance(value, tuple) else value.settings
    return Job(**values)


def checked_job(tree: dict[str, Any], source: Path, given: Overrides, options: Mapping[tuple[str, str], str]) -> Job:
    """The job in a tree of tables; `source` is the file, `given` what the command line says, and `options` its words.

    Raises WordsError if a value of the command line is among the faults, else JobError; either lists all faults.
    """
    try:
        return _make_job(tree)
    except ValidationError as error:
        raise _describe(error, source, given, options) from None


MAX_FAULT_TEXT = 300
"""Characters of a fault; one that repeats a long value is cut off."""

MAX_FAULTS = 40
"""Faults that a message lists; it counts the others."""


def _describe(
    error: ValidationError, source: Path, given: Overrides, options: Mapping[tuple[str, str], str]
) -> JobError | WordsError:
    """The error that lists all faults; it is a WordsError if one of them is in a value of the command line."""
    faults, in_options = [], False
    for detail in error.errors(include_url=False):
        place = tuple(str(step) for step in detail["loc"])
        key = (place[0], place[1]) if len(place) > 1 else None
        if key is None and place and detail["type"] == "value_error":
            key = next((key for key in given if key[0] == place[0] and key[1] in detail["msg"]), None)
        if key is not None and key in given:
            in_options = True
            faults.append(f"{options.get(key, '.'.join(key))}: {_describe_fault(detail)}")
        else:
            faults.append(f"{source.name}: {shorten('.'.join(place))}: {_describe_fault(detail)}")
    faults = list(dict.fromkeys(faults))
    listed = faults[:MAX_FAULTS] + ([f"and {len(faults) - MAX_FAULTS} more"] if len(faults) > MAX_FAULTS else [])
    message = faults[0] if len(faults) == 1 else f"{len(faults)} faults:\n  " + "\n  ".join(listed)
    return WordsError(message) if in_options else JobError(message)


def _describe_fault(detail: Any) -> str:  # noqa: ANN401 - pydantic's own dictionary
    """What was expected and what was found."""
    kind = detail["type"]
    if kind == "extra_forbidden":
        return "unknown key"
    if kind == "missing":
        return "missing"
    if kind == "value_error":
        text = str(detail["ctx"]["error"])
        return text if len(text) <= MAX_FAULT_TEXT else f"{text[:MAX_FAULT_TEXT]}..."
    expected = str(detail["msg"]).removeprefix("Input should be ").removeprefix("Input ")
    return f"expected {expected}, found {shorten(repr(detail.get('input')))}"
