"""The options of the command line, in groups that several commands share. Each names its place in the job."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

PLACES: dict[str, tuple[str, str]] = {}
"""click's parameter name -> (part, key) of the job."""

NAMES: dict[tuple[str, str], str] = {}
"""(part, key) of the job -> the option as it is typed."""


def _option(part: str, key: str, *names: str, **settings: Any) -> Callable[[Command], Command]:  # noqa: ANN401 - click's own
    parameter = f"{part}_{key}"
    PLACES[parameter] = (part, key)
    NAMES[part, key] = names[0].split("/")[0]
    settings.setdefault("default", None)
    settings.setdefault("metavar", "TEXT")
    return click.option(*names, parameter, **settings)


def _choice(*words: str) -> dict[str, Any]:
    return {"type": click.Choice(words, case_sensitive=False), "metavar": "|".join(words)}


HULL = [
    _option(
        "hull", "unit", "--unit", metavar="UNIT", help="Unit of the hull file (mm, cm, m, in, ft); overrules the file."
    ),
    _option("hull", "length", "--length", metavar="MM", help="Bring the hull to this overall length."),
    _option("hull", "scale", "--scale", metavar="1:12", help="Bring the hull to this scale."),
    _option("hull", "length_axis", "--length-axis", **_choice("x", "y", "z"), help="The file's axis along the hull."),
    _option("hull", "up", "--up", **_choice("x", "y", "z", "-x", "-y", "-z"), help="The file's axis that points up."),
    _option("hull", "nose", "--nose", **_choice("low", "high"), help="The end of the length axis where the nose is."),
    _option(
        "hull",
        "mirror",
        "--mirror",
        **_choice("auto", "none", "x", "y", "z"),
        help="Mirror a half hull across this axis of the file.",
    ),
    _option("hull", "solid", "--solid/--as-is", help="Fill a thin shell, voids and open top, to a solid plug."),
    _option(
        "hull", "bodies", "--body", type=int, multiple=True, metavar="N", help="Use only this body; may be repeated."
    ),
    _option("hull", "datum", "--datum", metavar="MM", help="Height of the datum above the lowest point."),
    _option(
        "hull",
        "max_triangles",
        "--max-triangles",
        type=int,
        metavar="N",
        help="Take up to so many triangles (5000000).",
    ),
    _option("hull", "max_bytes", "--max-bytes", type=int, metavar="N", help="Take a file of up to so many bytes."),
]

FOAM = [
    _option("foam", "thickness", "--foam", metavar="MM", help="Thickness of the foam: 40, 1.5in."),
    _option("foam", "odd", "--odd", **_choice("nose", "tail", "both"), help="Where odd blocks go (nose)."),
    _option(
        "foam", "min_block", "--min-block", metavar="MM", help="Thinnest block; a thinner remainder is shared (10)."
    ),
    _option(
        "foam", "breaks", "--break", multiple=True, metavar="MM", help="A station here, from the nose; may be repeated."
    ),
    _option(
        "foam", "fit", "--fit", metavar="MM", help="Fewest blocks with no more than this to sand, instead of full ones."
    ),
    _option(
        "foam",
        "as_measured",
        "--as-measured/--as-named",
        help="Stations where the glued faces of the measured boards will be (as named).",
    ),
    _option(
        "template",
        "growth",
        "--growth",
        metavar="block|none|MM",
        help="Cut larger so that no foam is missing: as little as each block needs (block), not at all, by so much.",
    ),
]

FOAMS = click.option(
    "--foam", "foams", multiple=True, metavar="MM", help="A foam to compare: 25, 40, 2in; may be repeated."
)
FITS = click.option(
    "--fit", "fits", multiple=True, metavar="MM", help="Plan by fit as well, within this limit; may be repeated."
)
PLANNING = [option for option in FOAM if option not in {FOAM[0], FOAM[4]}]
"""Foam options but for thickness and fit, which a comparison takes several of."""

TEMPLATE = [
    _option(
        "template",
        "gauges",
        "--gauge",
        multiple=True,
        metavar="MM",
        help="A gauge for a tip block here, from the nose; may be repeated.",
    ),
    _option("template", "skin", "--skin", metavar="MM", help="Sheeting, cloth and filler that go over the foam (0)."),
    _option("template", "kerf", "--kerf", metavar="MM", help="Slot that the wire leaves in the foam (0)."),
    _option(
        "template",
        "kerf_test",
        "--kerf-test",
        metavar="MM",
        help="What the test block of 100 mm measures, instead of --kerf.",
    ),
    _option("template", "wire", "--wire", metavar="MM", help="Diameter of the wire (0)."),
    _option(
        "template", "allowance", "--allowance", metavar="MM", help="Least foam round the outline in its block (5)."
    ),
    _option(
        "template",
        "box",
        "--box",
        **_choice("common", "each"),
        help="One block size for all, or each its own (common).",
    ),
    _option("template", "pin", "--pin", metavar="MM", help="Diameter of the pin holes (3)."),
    _option("template", "marks", "--marks", metavar="MM", help="Distance between the numbered marks."),
]

PAPER = [
    _option(
        "paper", "size", "--paper", metavar="SIZE", help="A0 to A5, Letter, Legal, Tabloid, ANSI-C to E, 610x2000 (A4)."
    ),
    _option("paper", "margin", "--margin", metavar="MM", help="Edge that the printer cannot print on (8)."),
    _option(
        "paper", "overlap", "--overlap", metavar="MM", help="Overlap where a template goes over several pages (10)."
    ),
    _option(
        "paper",
        "orientation",
        "--orientation",
        **_choice("auto", "portrait", "landscape"),
        help="How the paper lies (auto).",
    ),
    _option(
        "paper", "bar_across", "--bar-across", metavar="MM", help="What the 100 mm bar across measures on your print."
    ),
    _option(
        "paper", "bar_up", "--bar-up", metavar="MM", help="What the 100 mm bar up the page measures on your print."
    ),
]

WIRE = [
    _option("wire", "alloy", "--alloy", metavar="NAME", help="NiCr 80/20, NiCr 60/15 or stainless 304 (NiCr 80/20)."),
    _option("wire", "gauge", "--gauge-awg", type=int, metavar="AWG", help="Gauge of the wire, AWG."),
    _option("wire", "diameter", "--diameter", metavar="MM", help="Diameter of the wire, instead of its gauge."),
    _option("wire", "span", "--span", metavar="MM", help="Heated length between the clamps (600)."),
    _option("wire", "in_foam", "--in-foam", metavar="MM", help="How much of it lies in foam at most."),
    _option(
        "wire", "temperature", "--temperature", type=float, metavar="C", help="Degrees Celsius, in free air (300)."
    ),
    _option("wire", "supply", "--supply", type=float, metavar="V", help="What the supply gives, volts."),
]

OUTPUT = [_option("output", "folder", "--out", metavar="FOLDER", help="Folder for the results (output/NAME).")]


def grouped(*groups: list[Callable[[Any], Any]]) -> Callable[[Command], Command]:
    """A decorator that gives a command all options of the groups, in their order."""

    def decorate(command: Command) -> Command:
        for option in reversed([option for group in groups for option in group]):
            command = option(command)
        return command

    return decorate
