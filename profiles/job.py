"""The job: everything a build is asked for, from a TOML file and from options; all faults at once, with their path.

A Job holds values in mm and nothing else; no file is read here but the job file itself.
"""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from profiles.errors import JobError, WordsError
from profiles.foam.wire import WireSettings, wire_figures
from profiles.hull.limits import MOST_BYTES, MOST_TRIANGLES
from profiles.units import Paper, length_mm, paper_named, unit_name

LONGEST = 100_000.0
"""mm; nobody cuts a foam body over 100 m, so a larger figure is a slip."""


def _scale(value: object) -> object:
    """Text such as "1:12" -> 1/12; a bare number is the factor itself."""
    if isinstance(value, str):
        match = re.fullmatch(r"\s*([\d.]+)\s*[:/]\s*([\d.]+)\s*", value)
        if match is None:
            msg = f"expected a scale such as '1:12', found {value!r}"
            raise ValueError(msg)
        over, under = float(match[1]), float(match[2])
        if not under:
            msg = f"expected a scale such as '1:12', found {value!r}"
            raise ValueError(msg)
        return over / under
    return value


def _length(value: object) -> object:
    if isinstance(value, str | int | float):
        return length_mm(value)
    msg = f"expected a length such as 40 or '1.5in', found {value!r}"
    raise ValueError(msg)


def _growth(value: object) -> object:
    """The word block -> None, none -> 0, anything else is a length."""
    if isinstance(value, str) and value.strip().lower() in {"block", "none"}:
        return None if value.strip().lower() == "block" else 0.0
    return _length(value)


def _tolerance(value: object) -> object:
    """One length for both sides, or two: below and above."""
    if isinstance(value, list | tuple):
        if len(value) != 2:  # noqa: PLR2004 - below and above
            msg = f"expected a tolerance such as 0.5 or [2, 3] (below, above), found {value!r}"
            raise ValueError(msg)
        sides = [_length(side) for side in value]
    else:
        sides = [_length(value)] * 2
    if any(isinstance(side, float) and side < 0 for side in sides):
        msg = f"expected a tolerance of 0 or more, found {value!r}"
        raise ValueError(msg)
    return tuple(sides)


def _paper(value: object) -> object:
    if isinstance(value, str):
        return paper_named(value)
    msg = f"expected a paper such as 'A4' or '610x2000', found {value!r}"
    raise ValueError(msg)


def _unit(value: object) -> object:
    return unit_name(value) if isinstance(value, str) else value


Length = Annotated[float, BeforeValidator(_length)]
Place = Annotated[Length, Field(ge=-LONGEST, le=LONGEST)]
"""mm from the nose, or above the lowest point."""
MOST_PLACES = 500
"""Breaks or gauges; nobody cuts so many by hand."""
Places = Annotated[tuple[Place, ...], Field(strict=False, max_length=MOST_PLACES)]
Axis = Literal["x", "y", "z"]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True)


class HullJob(_Part):
    """[hull]: the file, and what it does not say itself."""

    file: str = Field(min_length=1)
    unit: Annotated[str, BeforeValidator(_unit)] | None = None
    length: Annotated[Length, Field(gt=0, le=LONGEST)] | None = None
    scale: Annotated[float, BeforeValidator(_scale), Field(gt=0, le=1e4)] | None = None
    length_axis: Axis | None = None
    up: Literal["x", "y", "z", "-x", "-y", "-z"] | None = None
    nose: Literal["low", "high"] | None = None
    mirror: Literal["auto", "none", "x", "y", "z"] = "auto"
    solid: bool = False
    bodies: Annotated[tuple[Annotated[int, Field(ge=1, le=10**6)], ...], Field(strict=False, max_length=1000)] = ()
    datum: Place | None = None
    max_triangles: Annotated[int, Field(ge=1, le=10**9)] = MOST_TRIANGLES
    max_bytes: Annotated[int, Field(ge=1, le=10**12)] = MOST_BYTES

    @model_validator(mode="after")
    def _one_size(self) -> "HullJob":
        if self.length is not None and self.scale is not None:
            msg = "give either length or scale, not both"
            raise ValueError(msg)
        if self.length_axis and self.up and self.up.removeprefix("-") == self.length_axis:
            msg = f"length_axis and up are both {self.length_axis}; they must differ"
            raise ValueError(msg)
        return self


class FoamJob(_Part):
    """[foam]: how the hull is divided into blocks."""

    thickness: Annotated[Length, Field(gt=0, le=LONGEST)] | None = None
    odd: Literal["nose", "tail", "both"] = "nose"
    min_block: Annotated[Length, Field(ge=0)] = 10.0
    breaks: Places = ()
    fit: Annotated[Length, Field(ge=0.01, le=100)] | None = None
    as_measured: bool = False
    """Stations where the glued faces of the measured boards will be."""

    @model_validator(mode="after")
    def _block_fits(self) -> "FoamJob":
        if self.thickness is not None and self.min_block > self.thickness:
            msg = f"min_block ({self.min_block:g} mm) is thicker than the foam ({self.thickness:g} mm)"
            raise ValueError(msg)
        return self


class BoardJob(_Part):
    """One of [[boards]] or [[offcuts]]: foam in the shed. `count` left out: as many as are needed, to be bought."""

    name: str = Field(default="", max_length=60)
    count: Annotated[int, Field(ge=1, le=10_000)] | None = None
    length: Annotated[Length, Field(gt=0, le=LONGEST)]
    width: Annotated[Length, Field(gt=0, le=LONGEST)]
    thickness: Annotated[Length, Field(gt=0, le=LONGEST)]
    measured: Annotated[Length, Field(gt=0, le=LONGEST)] | None = None
    tolerance: Annotated[Annotated[tuple[float, float], Field(strict=False)] | None, BeforeValidator(_tolerance)] = None
    """mm below and above."""
    foam: str = Field(default="", max_length=40)
    price: Annotated[float, Field(ge=0, le=1e6, strict=False)] | None = None


MOST_BOARDS = 200
"""Kinds of boards; more is a warehouse and a slip."""

Boards = Annotated[tuple[BoardJob, ...], Field(strict=False, max_length=MOST_BOARDS)]


class CuttingJob(_Part):
    """[cutting]: how blocks are cut out of boards."""

    kerf: Annotated[Length, Field(ge=0, le=20)] | None = None
    """mm; None: the template's kerf, or what is usual."""
    trim: Annotated[Length, Field(ge=0, le=200)] = 5.0
    glue: Annotated[Length, Field(ge=0, le=10)] = 0.0
    layers: Annotated[int, Field(ge=1, le=6)] = 3
    grain: Literal["any", "height along", "width along"] = "any"
    smallest_offcut: Annotated[Length, Field(ge=0, le=5000)] = 80.0
    effort: Annotated[int, Field(ge=0, le=1_000_000)] = 2000
    seconds: Annotated[float, Field(gt=0, le=3600, strict=False)] = 60.0


class WireJob(_Part):
    """[wire]: the wire and its supply."""

    alloy: str = "NiCr 80/20"
    gauge: Annotated[int, Field(ge=0, le=50)] | None = None
    """AWG."""
    diameter: Annotated[Length, Field(gt=0, le=10)] | None = None
    span: Annotated[Length, Field(gt=0, le=LONGEST)] = 600.0
    in_foam: Annotated[Length, Field(gt=0, le=LONGEST)] | None = None
    """mm; None: the widest block."""
    temperature: Annotated[float, Field(strict=False)] = 300.0
    """Degrees Celsius."""
    supply: Annotated[float, Field(strict=False)] | None = None
    """Volts."""

    @model_validator(mode="after")
    def _one_size(self) -> "WireJob":
        if self.gauge is not None and self.diameter is not None:
            msg = "give either gauge or diameter, not both"
            raise ValueError(msg)
        return self

    @model_validator(mode="after")
    def _possible(self) -> "WireJob":
        """Refuse a wire or a supply that cannot be, before anything is cut out of the hull."""
        try:
            wire_figures(self.settings())
        except JobError as fault:
            raise ValueError(str(fault)) from None
        return self

    def settings(self, widest: float | None = None) -> WireSettings:
        """The wire as its figures need it; `widest` is the widest block in mm, where it is known."""
        in_foam = self.in_foam or widest
        return WireSettings(
            alloy=self.alloy,
            gauge=self.gauge,
            diameter_mm=self.diameter,
            span_mm=self.span,
            in_foam_mm=None if in_foam is None else min(in_foam, self.span),
            temperature_celsius=self.temperature,
            supply_volts=self.supply,
        )


class TemplateJob(_Part):
    """[template]: allowances and what is drawn."""

    skin: Annotated[Length, Field(ge=0, le=100)] = 0.0
    kerf: Annotated[Length, Field(ge=0, le=20)] = 0.0
    kerf_test: Annotated[Length, Field(gt=0, le=200)] | None = None
    """What the test block of 100 mm measures; gives the kerf."""
    wire: Annotated[Length, Field(ge=0, le=10)] = 0.0
    allowance: Annotated[Length, Field(ge=0, le=500)] = 5.0
    box: Literal["common", "each"] = "common"
    pin: Annotated[Length, Field(ge=0.5, le=20)] = 3.0
    marks: Annotated[Length, Field(ge=5, le=10_000)] | None = None
    growth: Annotated[Annotated[float, Field(ge=0, le=50)] | None, BeforeValidator(_growth)] = None
    """mm; None is the least with which no foam is missing ("block")."""
    gauges: Places = ()

    @model_validator(mode="after")
    def _one_kerf(self) -> "TemplateJob":
        if self.kerf and self.kerf_test is not None:
            msg = "give either kerf or kerf_test, not both"
            raise ValueError(msg)
        return self


class PaperJob(_Part):
    """[paper]: what the pages are printed on, and what the printer makes of 100 mm."""

    size: Annotated[Paper, BeforeValidator(_paper)] = Paper("A4", 210.0, 297.0)
    margin: Annotated[Length, Field(ge=0, le=100)] = 8.0
    overlap: Annotated[Length, Field(ge=2, le=50)] = 10.0
    orientation: Literal["auto", "portrait", "landscape"] = "auto"
    bar_across: Annotated[Length, Field(ge=90, le=110)] = 100.0
    bar_up: Annotated[Length, Field(ge=90, le=110)] = 100.0


class OutputJob(_Part):
    """[output]: where the results go."""

    folder: str | None = None


class Job(_Part):
    """A whole job. Lengths in mm."""

    hull: HullJob
    foam: FoamJob = FoamJob()
    boards: Boards = ()
    offcuts: Boards = ()
    cutting: CuttingJob = CuttingJob()
    wire: WireJob = WireJob()
    template: TemplateJob = TemplateJob()
    paper: PaperJob = PaperJob()
    output: OutputJob = OutputJob()


Words = Mapping[tuple[str, str], Any]
"""What the command line said: (part, key) of the job -> value."""


def job_from(source: Path, words: Words | None = None, options: Mapping[tuple[str, str], str] | None = None) -> Job:
    """The job in a TOML file, or the job for a hull file with defaults; `words` of the command line overrule both.

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
        return Job.model_validate(tree)
    except ValidationError as fault:
        raise _told(fault, source, said, options or {}) from None


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
            message = f"{source}: a key has more than {LONGEST_KEY} parts joined by dots"
            raise JobError(message, remedy="README shows a whole job file.")
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
        raise JobError(message, remedy="Mend that place; README shows a whole job file.") from None


LONGEST_KEY = 50
"""Parts of a dotted key; the library that reads TOML takes memory by the square of them. A job needs two."""


def _longest_key(text: str) -> int:
    """Parts of the longest dotted key, as far as it can be told without reading TOML."""
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
        raise JobError(message, remedy="README shows a whole job file.")
    return tree


LONGEST_WORDS = 80
"""Signs of what was found that a message repeats."""


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_WORDS else f"{text[:LONGEST_WORDS]}... ({len(text)} signs)"


LONGEST_SENTENCE = 300
"""Signs of a fault; one that repeats a long value is cut off."""

MOST_FAULTS = 40
"""Faults that are told; more are counted."""


def _resolve(tree: dict[str, Any], folder: Path) -> None:
    for part, key in (("hull", "file"), ("output", "folder")):
        section = tree.get(part)
        if isinstance(section, dict) and isinstance(section.get(key), str) and section[key]:
            section[key] = str(folder / section[key])


def _told(
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
    told = [*unique[:MOST_FAULTS], *([f"and {len(unique) - MOST_FAULTS} more"] if len(unique) > MOST_FAULTS else [])]
    message = unique[0] if len(unique) == 1 else f"{len(unique)} faults:\n  " + "\n  ".join(told)
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
