"""The options of the command line, in groups that several commands share; each has its place in the job."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

PLACES: dict[str, tuple[str, str]] = {}
"""click's parameter name -> (part, key) of the job."""

NAMES: dict[tuple[str, str], str] = {}
"""(part, key) of the job -> the long option for it."""


def _option(part: str, key: str, *names: str, **settings: Any) -> Callable[[Command], Command]:  # noqa: ANN401 - click's own
    parameter = f"{part}_{key}"
    PLACES[parameter] = (part, key)
    NAMES[part, key] = next(name for name in names if name.startswith("--")).split("/")[0]
    settings.setdefault("default", None)
    settings.setdefault("metavar", "TEXT")
    return click.option(*names, parameter, **settings)


def _choice(*words: str) -> dict[str, Any]:
    return {"type": click.Choice(words, case_sensitive=False), "metavar": "|".join(words)}


HULL = [
    _option(
        "hull", "unit", "--unit", metavar="UNIT", help="Unit of the hull file (mm, cm, m, in, ft); overrides the file."
    ),
    _option("hull", "length", "--length", metavar="MM", help="Scale the hull to this overall length."),
    _option("hull", "scale", "--scale", metavar="1:12", help="Scale the hull by this factor."),
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
    _option("hull", "solid", "--solid/--as-is", help="Fill a thin shell, voids and an open top to make a solid plug."),
    _option(
        "hull", "bodies", "--body", type=int, multiple=True, metavar="N", help="Use only this body; repeat it for more."
    ),
    _option("hull", "datum", "--datum", metavar="MM", help="Height of the datum above the hull's lowest point."),
    _option(
        "hull",
        "max_triangles",
        "--max-triangles",
        type=int,
        metavar="N",
        help="Refuse a file with more triangles (5000000).",
    ),
    _option("hull", "max_bytes", "--max-bytes", type=int, metavar="N", help="Refuse a larger file."),
]

FOAM = [
    _option("foam", "thickness", "--foam", metavar="MM", help="Thickness of the foam: 40, 1.5in."),
    _option("foam", "odd", "--odd", **_choice("nose", "tail", "both"), help="Where odd blocks go (nose)."),
    _option(
        "foam", "min_block", "--min-block", metavar="MM", help="Thinnest block; a neighbour shares a thinner rest (10)."
    ),
    _option(
        "foam",
        "breaks",
        "--break",
        multiple=True,
        metavar="MM",
        help="A station here, from the nose; repeat it for more.",
    ),
    _option(
        "foam", "fit", "--fit", metavar="MM", help="Fewest blocks with at most this to sand, instead of full ones."
    ),
    _option(
        "foam",
        "as_measured",
        "--as-measured/--as-named",
        help="Put stations where the faces of the measured boards will be (as named).",
    ),
    _option(
        "template",
        "growth",
        "--growth",
        metavar="block|none|MM",
        help="Enlarge outlines so that no foam is missing: as far as each block needs (block), not at all, or by this.",
    ),
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
PLANNING = [option for option in FOAM if option not in {FOAM[0], FOAM[4]}]
"""Foam options without thickness and fit, of which a comparison takes several."""

TEMPLATE = [
    _option(
        "template",
        "gauges",
        "--gauge",
        multiple=True,
        metavar="MM",
        help="A gauge for a tip block here, from the nose; repeat it for more.",
    ),
    _option(
        "template", "skin", "--skin", metavar="MM", help="Thickness of sheeting, cloth and filler over the foam (0)."
    ),
    _option("template", "kerf", "--kerf", metavar="MM", help="Width of the slot that the wire leaves (0)."),
    _option(
        "template",
        "kerf_test",
        "--kerf-test",
        metavar="MM",
        help="What the test block of 100 mm measures, instead of --kerf.",
    ),
    _option("template", "wire", "--wire", metavar="MM", help="Diameter of the wire (0)."),
    _option(
        "template",
        "allowance",
        "--allowance",
        metavar="MM",
        help="Least foam between outline and edge of the block (5).",
    ),
    _option(
        "template",
        "box",
        "--box",
        **_choice("common", "each"),
        help="One block size for all, or one for each (common).",
    ),
    _option("template", "pin", "--pin", metavar="MM", help="Diameter of the pin holes (3)."),
    _option("template", "marks", "--marks", metavar="MM", help="Distance between numbered marks."),
]

PAPER = [
    _option(
        "paper", "size", "--paper", metavar="SIZE", help="A0 to A5, Letter, Legal, Tabloid, ANSI-C to E, 610x2000 (A4)."
    ),
    _option("paper", "margin", "--margin", metavar="MM", help="Margin that the printer leaves empty (8)."),
    _option("paper", "overlap", "--overlap", metavar="MM", help="Overlap of the pages of a large template (10)."),
    _option(
        "paper",
        "orientation",
        "--orientation",
        **_choice("auto", "portrait", "landscape"),
        help="Direction of the paper (auto).",
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
    _option("wire", "in_foam", "--in-foam", metavar="MM", help="Longest part of it in foam (the widest block)."),
    _option(
        "wire",
        "temperature",
        "--temperature",
        type=float,
        metavar="C",
        help="Temperature in free air, degrees Celsius (300).",
    ),
    _option("wire", "supply", "--supply", type=float, metavar="V", help="Voltage of your supply."),
]

OUTPUT = [_option("output", "folder", "-o", "--out", metavar="FOLDER", help="Folder for the results (output/NAME).")]


def grouped(*groups: list[Callable[[Any], Any]]) -> Callable[[Command], Command]:
    """A decorator that gives a command all options of the groups, in their order."""

    def decorate(command: Command) -> Command:
        for option in reversed([option for group in groups for option in group]):
            command = option(command)
        return command

    return decorate
