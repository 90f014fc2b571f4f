"""The command for builders without a mesh: `form`."""

from pathlib import Path

import click

from profiles.cli.jobs import parse_length
from profiles.cli.writing import write_file
from profiles.errors import FolderError, WordsError

UNITS = ("mm", "cm", "m", "in", "ft", "feet-inches-eighths")


@click.command()
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path))
@click.option("--length", default="900", metavar="MM", help="Length of the hull (900).")
@click.option("--breadth", default="200", metavar="MM", help="Its greatest breadth (200).")
@click.option("--depth", default="120", metavar="MM", help="Its depth (120).")
@click.option("--stations", type=click.IntRange(2, 200), default=11, help="Stations, both ends included (11).")
@click.option("--waterlines", type=click.IntRange(0, 100), default=7, help="Waterlines between keel and sheer (7).")
@click.option("--unit", type=click.Choice(UNITS), default="mm", help="Unit of a table (mm); a drawing is in mm.")
def form(target: Path, length: str, breadth: str, depth: str, stations: int, waterlines: int, unit: str) -> None:
    """Write an empty table of offsets (.csv) or an empty drawing for sections (.svg) to fill in.

    For a hull that you have on paper only. Sizes may have units, such as --length 3ft.
    """
    from profiles import console
    from profiles.paper.lineforms import FormSizes, empty_drawing, empty_table

    sizes = FormSizes(
        parse_length("--length", length),
        parse_length("--breadth", breadth),
        parse_length("--depth", depth),
        stations,
        waterlines,
    )
    suffix = target.suffix.lower()
    if suffix not in {".csv", ".svg"}:
        message = f"expected a name that ends in .csv or .svg, found {target}"
        raise WordsError(message)
    if target.exists():
        message = f"{target} is there already."
        raise FolderError(message, remedy="Choose another name, so that nothing you filled in is lost.")
    write_file(target, (empty_table(sizes, unit) if suffix == ".csv" else empty_drawing(sizes)).encode())
    console.following(f"fill in {target}, then stationer inspect {target} --lines plan.svg shows the hull's lines.")
