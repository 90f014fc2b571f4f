"""The `stationer` command: its commands by what they do, and how it ends.

Only this package and `console` print, and only this package writes a job's folder. Commands import everything heavy
inside themselves, so that --help answers at once.
"""

import contextlib
import gc
import os
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator
from typing import Any, NoReturn

import click

from profiles import __version__, interrupts
from profiles.cli.afloat import balance, float_
from profiles.cli.desk import desk
from profiles.cli.forms import form
from profiles.cli.looking import inspect, plan
from profiles.cli.making import compare, demo, make
from profiles.cli.supplies import foam, kerf_test, wire
from profiles.errors import StationerError


class _Commands(click.Group):
    """The commands; one whose output nobody reads any longer has done its work."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own
        """As click does, but for a closed pipe."""
        try:
            return super().invoke(ctx)
        except (BrokenPipeError, SystemExit) as fault:  # click, and rich with SystemExit, would end with exit code 1
            if isinstance(fault, SystemExit) and not isinstance(fault.__context__, BrokenPipeError):
                raise
            sys.stdout = None  # what it still holds is not tried once more
            ctx.exit(0)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__, prog_name="stationer")
def commands() -> None:
    """Make full-size templates for cutting a long body out of foam blocks with a hot wire.

    HULL_OR_JOB is a mesh (STL, OBJ, PLY, OFF, GLB, glTF, 3MF, COLLADA), a table of offsets (CSV) or a drawing of
    sections (SVG), each also gzipped, or a job file (.toml).

    A hot wire burns and foam fumes harm: read the cautions in the job book before you switch anything on.
    """


for command in (inspect, plan, make, compare, foam, balance, float_, wire, kerf_test, form, demo, desk):
    commands.add_command(command)


@contextlib.contextmanager
def _one_clear_message() -> Iterator[None]:
    try:
        yield
    except StationerError as fault:
        _fail(str(fault), fault.exit_code)
    except click.ClickException as fault:
        fault.show()
        sys.exit(fault.exit_code)
    except (KeyboardInterrupt, click.Abort):
        _fail(interrupts.sentence(), interrupts.EXIT_CODE)
    except BrokenPipeError:
        sys.stdout = None  # its reader has enough
        sys.exit(0)
    except OSError as fault:
        sys.stdout = None  # what it still holds is not tried once more
        where = f" ({fault.filename})" if fault.filename else ""
        _fail(f"the system refused: {fault.strerror or fault}{where}. Check the disk and the output folder.", 3)
    except MemoryError:
        _fail("this job needs more memory than there is. Close other programs, or reduce the mesh.", 3)


def _fail(message: str, code: int) -> NoReturn:
    click.echo(_wrapped(f"stationer: {message}"), err=True)
    sys.exit(code)


def _wrapped(message: str) -> str:
    """The message as it is in a pipe; on a terminal its lines break between words."""
    if not sys.stderr.isatty():
        return message
    width = shutil.get_terminal_size().columns
    lines = [
        textwrap.fill(line, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
        for line in message.splitlines()
    ]
    return "\n".join(lines)


def main() -> None:
    """Entry point of the command."""
    run: Callable[..., Any] = commands.main
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # no product here is large enough to share, and threads cost
    gc.disable()  # one short run: looking for cycles costs a tenth of it and frees next to nothing
    try:
        with _one_clear_message():
            sys.exit(run(standalone_mode=False))
    finally:
        gc.freeze()  # nor is it worth looking for them on the way out, when all memory goes back at once


if __name__ == "__main__":
    main()
