"""Files that are dropped on the page: streamed into the desk's private folder, under names that are not theirs."""

import asyncio
import re
from collections.abc import AsyncIterator
from pathlib import Path

from profiles.hull.formats.recognise import LINES, SUFFIXES
from profiles.hull.loading import printable_name
from profiles.values import dataclass

MOST_BYTES = 64 * 1024 * 1024
"""Of a file; a mesh of a million triangles has 50 MB as a binary STL."""

STALL = 20.0
"""s without a byte, after which an upload is given up. A file of this machine comes in one go."""

LONGEST = 300.0
"""s for a whole upload."""

LONGEST_NAME = 200
"""Characters of a name that are kept."""

JOB = ".toml"

ENDINGS = (*SUFFIXES, *LINES, JOB)
"""What a name must end in; all but a job may be followed by .gz."""


class UploadError(Exception):
    """A file that is not taken, with the HTTP status for it."""

    def __init__(self, status: int, message: str) -> None:
        super().__init__(message)
        self.status = status


@dataclass(frozen=True, slots=True)
class Name:
    """The name of a file as it was dropped."""

    shown: str
    """Without folders, in one line."""
    ending: str
    """Such as ".stl" or ".stl.gz", in small letters: one of those that are known."""

    @property
    def is_job(self) -> bool:
        """Whether it is a job file."""
        return self.ending == JOB


def name_of(given: str) -> Name:
    """The name, if files of its kind are read. Raises UploadError."""
    last = re.split(r"[/\\]", given)[-1]
    shown = printable_name("".join(sign for sign in last if sign.isprintable()))[:LONGEST_NAME].strip()
    lower = shown.lower()
    zipped = ".gz" if lower.endswith(".gz") else ""
    ending = next((ending for ending in ENDINGS if lower.removesuffix(".gz").endswith(ending)), None)
    if ending is None or (ending == JOB and zipped):
        known = ", ".join(ENDINGS)
        message = (
            f"{shown or 'This file'}: expected a hull file or a job file ({known}). Export the hull as one of these."
        )
        raise UploadError(415, message)
    return Name(shown, ending + zipped)


def check_length(stated: str | None, name: Name, most: int = MOST_BYTES) -> None:
    """Refuse a file by the length that its sender states, before a byte of it is read. Raises UploadError."""
    if stated is not None and stated.isdecimal() and int(stated) > most:
        raise _too_large(name, most)


def _too_large(name: Name, most: int) -> UploadError:
    size = f"{most / 1024 / 1024:g} MiB"
    return UploadError(
        413, f"{name.shown} is larger than {size}. Reduce the mesh, compress it as .gz, or use the command line."
    )


async def receive(chunks: AsyncIterator[bytes], target: Path, name: Name, most: int = MOST_BYTES) -> int:
    """Write a file as it comes; returns its length. Where anything is wrong nothing is left. Raises UploadError."""
    try:
        async with asyncio.timeout(LONGEST):
            return await _write(chunks, target, name, most)
    except TimeoutError:
        target.unlink(missing_ok=True)
        message = f"{name.shown} did not arrive in time. Drop it again."
        raise UploadError(408, message) from None
    except OSError as fault:
        target.unlink(missing_ok=True)
        message = f"{name.shown} cannot be stored: {fault.strerror}. Check the disk."
        raise UploadError(507, message) from None
    except BaseException:
        target.unlink(missing_ok=True)
        raise


async def _write(chunks: AsyncIterator[bytes], target: Path, name: Name, most: int) -> int:
    length = 0
    with target.open("xb") as file:
        while True:
            async with asyncio.timeout(STALL):
                chunk = await anext(chunks, None)
            if chunk is None:
                break
            length += len(chunk)
            if length > most:
                raise _too_large(name, most)
            file.write(chunk)
    if not length:
        message = f"{name.shown} is empty. Export the hull again."
        raise UploadError(400, message)
    return length
