"""The options of the command line, in groups that several commands share, made from the settings of the stages."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, TypeVar, get_args, get_origin

import click

from profiles.blocks.settings import BlockSettings, StationSettings
from profiles.body.settings import BodySettings, WaterSettings
from profiles.drafting.settings import DrawingSettings
from profiles.foam.wire import WireSettings
from profiles.hull.part_settings import Slices
from profiles.hull.settings import ReadSettings
from profiles.job import HullSource, OutputSettings
from profiles.paper.settings import PageSettings
from profiles.setting import SettingField, choices_of, setting_fields

Command = TypeVar("Command", bound=Callable[..., Any])
Option = Callable[[Any], Any]

PLACES: dict[str, tuple[str, str]] = {}
"""click's parameter name -> (part, key) of the job."""

NAMES: dict[tuple[str, str], str] = {}
"""(part, key) of the job -> the option as it is typed."""


def _options(part: str, settings: type, only: tuple[str, ...] = (), but: tuple[str, ...] = ()) -> list[Option]:
    """The options of a settings class: all that have one, or `only` these fields, or all `but` these."""
    return [
        _option(part, field)
        for field in setting_fields(settings)
        if field.setting.option and (field.name in only if only else field.name not in but)
    ]


def _option(part: str, field: SettingField) -> Option:
    parameter = f"{part}_{field.key}"
    PLACES[parameter] = (part, field.key)
    names = field.setting.option.split(" ")
    NAMES[part, field.key] = names[-1].split("/")[0]
    kind: dict[str, Any] = {"metavar": field.setting.metavar}
    choices = choices_of(field.type)
    if choices:
        kind = {"type": click.Choice(choices, case_sensitive=False), "metavar": "|".join(choices)}
    elif "/" in field.setting.option:
        kind = {}
    elif field.setting.parse is None:
        kind["type"] = next((number for number in (int, float) if number in _plain_types(field.type)), str)
    many = get_origin(field.type) is tuple
    return click.option(*names, parameter, default=None, help=field.setting.help, multiple=many, **kind)


def _plain_types(hint: Any) -> Iterator[type]:  # noqa: ANN401 - a type
    """The types within a union, a tuple or an annotation."""
    inner = get_args(hint)
    if not inner:
        yield hint
    for item in inner:
        yield from _plain_types(item)


GROWTH = ("growth", "missing")
"""Fields of the template that stations planned by fit depend on."""

HULL = _options("hull", ReadSettings)
PLACES["given_parts"] = ("parts", "")
NAMES["parts", ""] = "--part"
PARTS = [
    click.option(
        "--part",
        "given_parts",
        multiple=True,
        metavar="TEXT",
        callback=lambda _context, _option, texts: parse_parts(texts),
        help="Cut a part off and slice it its own way: 'fin: below -20, upright, foam 40'; repeat it for more.",
    ),
    *_options("hull", HullSource, only=("parts",)),
]


def parse_parts(texts: Sequence[str]) -> tuple[dict[str, Any], ...]:
    """Parts as they are typed, "NAME: REGION, SLICES, foam MM, odd END, min-block MM, break MM", each as the keys of a
    job file. Raises click.BadParameter.
    """
    return tuple(_parse_part(text) for text in texts)


def _parse_part(text: str) -> dict[str, Any]:
    name, colon, rest = text.partition(":")
    region, *others = (words.strip() for words in rest.split(","))
    if not colon or not name.strip() or not region:
        message = f"expected 'NAME: REGION', such as 'fin: below -20, upright', found {text!r}"
        raise click.BadParameter(message)
    part: dict[str, Any] = {"name": name.strip(), "region": region}
    for words in others:
        key, _, value = words.lower().replace("min-block", "min_block").partition(" ")
        if key in get_args(Slices) and not value:
            part["slice"] = key
        elif key == "break" and value.strip():
            part["breaks"] = [*part.get("breaks", []), value.strip()]
        elif key in {"foam", "odd", "min_block"} and value.strip():
            part[key] = value.strip()
        else:
            kinds = "along, across, upright, 'foam MM', 'odd nose', 'min-block MM' or 'break MM'"
            message = f"expected {kinds} after the region of part {name.strip()!r}, found {words!r}"
            raise click.BadParameter(message)
    return part


FOAM = [*_options("foam", StationSettings), *_options("template", BlockSettings, only=GROWTH)]
MADE = [
    click.option(
        "--foam",
        "foams",
        multiple=True,
        metavar="MM",
        help="Thickness of the foam: 40, 1.5in; repeat it to make each hull with each.",
    ),
    *_options("foam", StationSettings, but=("thickness",)),
    *_options("template", BlockSettings, only=GROWTH),
]
"""Foam options of which `make` takes several thicknesses."""
PLANNING = [
    *_options("foam", StationSettings, but=("thickness", "fit")),
    *_options("template", BlockSettings, only=GROWTH),
]
"""Foam options without thickness and fit, of which a comparison takes several."""
TEMPLATE = _options("template", BlockSettings, but=GROWTH)
PAPER = _options("paper", PageSettings)
SKIN = _options("template", BlockSettings, only=("skin",))
BODY = _options("body", BodySettings)
WATER = _options("water", WaterSettings)
DRAWINGS = _options("drawings", DrawingSettings)
WIRE = _options("wire", WireSettings)
OUTPUT = _options("output", OutputSettings)

PLACES["output_units"] = ("output", "units")
NAMES["output", "units"] = "--inches"
UNITS = [
    click.option(
        "--inches/--mm",
        "output_units",
        default=None,
        callback=lambda _context, _option, inches: None if inches is None else "in" if inches else "mm",
        help="Print all lengths in inches (mm); Letter paper and boxes in quarter inches unless given.",
    )
]

WORKERS = [
    click.option(
        "--workers",
        type=click.IntRange(min=1),
        metavar="N",
        help="Processes that work at a time; the files are the same for any number (one for each core).",
    )
]

FOAMS = click.option(
    "--foam", "foams", multiple=True, metavar="MM", help="A foam to compare: 25, 40, 2in; repeat it for more."
)
FITS = click.option(
    "--fit",
    "fits",
    multiple=True,
    metavar="MM",
    help="Also the fewest blocks with at most this to sand; repeat it for more.",
)


def grouped(*groups: list[Option]) -> Callable[[Command], Command]:
    """A decorator that gives a command all options of the groups, in their order."""

    def decorate(command: Command) -> Command:
        for option in reversed([option for group in groups for option in group]):
            command = option(command)
        return command

    return decorate
