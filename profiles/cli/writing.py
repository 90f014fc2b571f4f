"""What a command leaves besides a job's folder: single files, and figures on standard output."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from profiles import interrupts
from profiles.errors import FolderError, WordsError


def out_option(text: str) -> Callable[[Any], Any]:
    """The option -o of a command that writes one file."""
    return click.option("-o", "--out", "target", type=click.Path(path_type=Path), metavar="FILE", help=text)


def write_picture(target: Path, hull: Any) -> None:  # noqa: ANN401 - imported late
    """Side, plan and end view of a hull."""
    from profiles.pictures.views import picture_of

    write_drawing("--picture", target, picture_of(hull), hull.name)


def write_lines_plan(target: Path, hull: Any) -> None:  # noqa: ANN401 - imported late
    """The lines plan of a hull."""
    from profiles.pictures.linesplan import lines_plan

    write_drawing("--lines", target, lines_plan(hull), hull.name)


def write_drawing(option: str, target: Path, drawing: Any, title: str) -> None:  # noqa: ANN401 - imported late
    """A drawing as SVG or PNG, by the suffix of the file that an option names. Raises WordsError for another suffix."""
    from profiles.paper.svg import drawing_svg

    suffix = target.suffix.lower()
    if suffix == ".svg":
        content = drawing_svg(drawing, title=title).encode()
    elif suffix == ".png":
        from profiles.paper.pdf import drawing_png

        content = drawing_png(drawing, 150)
    else:
        message = f"{option}: expected a name that ends in .svg or .png, found {target}"
        raise WordsError(message)
    write_file(target, content)


def write_file(target: Path, content: bytes) -> None:
    """A file, in a folder that is made where it is missing. Raises FolderError."""
    try:
        with interrupts.held():
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
            interrupts.wrote(str(target))
    except OSError as fault:
        message = f"{target} cannot be written: {fault.strerror}"
        raise FolderError(message, remedy="Choose another file.") from None


def print_json(figures: dict[str, Any]) -> None:
    """Figures for other programs."""
    click.echo(json.dumps(figures, indent=1, ensure_ascii=False, allow_nan=False))
