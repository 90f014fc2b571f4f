"""The command that opens the desk."""

import os
import sys

import click

from profiles.errors import WordsError

NEEDED = ("starlette", "uvicorn", "plotly")
"""Packages of the extra `desk`."""


@click.command()
@click.option("--port", type=click.IntRange(1, 65535), metavar="N", help="Port of this machine (the first free one).")
@click.option("--no-open", "quiet", is_flag=True, help="Only print the address; do not open a browser.")
def desk(port: int | None, *, quiet: bool) -> None:
    """Open the desk: the whole job on a page of this machine in the browser.

    Nobody else can reach it. Press Ctrl-C here to close it.
    """
    check_extra()
    from profiles.desk.serving import serve
    from profiles.paper.fonts import check_requirements

    check_requirements()

    def ready(address: str) -> None:
        click.echo(f"The desk is open at {address}")
        click.echo("The address works once. Press Ctrl-C to close the desk.")
        sys.stdout.flush()
        if not quiet and not _open_browser(address):
            click.echo("No browser opened. Copy the address into one.")

    serve(port, ready)
    click.echo("The desk is closed; its temporary files are gone.")


def _open_browser(address: str) -> bool:
    """Whether a browser opens with a window of its own; one in the terminal would take the desk's place."""
    import webbrowser

    if sys.platform == "linux" and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    return webbrowser.open(address)


def check_extra() -> None:
    """Raise WordsError where the packages of the desk, or the system for it, are not there."""
    from importlib.util import find_spec

    if sys.platform == "win32":
        message = "the desk needs Linux or macOS, because its work is done in forks"
        raise WordsError(message, remedy="Use WSL, or the other commands.")
    missing = [name for name in NEEDED if find_spec(name) is None]
    if missing:
        message = f"the desk needs {' and '.join(missing)}"
        raise WordsError(message, remedy="Install with: pip install 'stationer[desk]'")
