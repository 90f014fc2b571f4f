"""What answers of the server are made of: tables and files that benches have left, bodies of requests, and faults as
sentences with a status.
"""

import asyncio
import contextlib
import json
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from profiles.desk import uploads
from profiles.desk.desks import Desk
from profiles.desk.link import LOST
from profiles.desk.wishes import WishError

RESULT_TYPES = {
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json",
    ".toml": "application/toml",
    ".zip": "application/zip",
}

DRAINED = 8 << 20
"""Bytes of a refused file that are still read: a job file or a mesh a little too large gets its sentence."""

DRAIN_SECONDS = 1.0

MOST_SETTINGS = 256 * 1024
"""Bytes of settings; a job is a page of text."""


class RefusedError(Exception):
    """An answer with a status, a sentence, and the fields at fault."""

    def __init__(self, status: int, message: str, faults: tuple[dict[str, str], ...] = ()) -> None:
        super().__init__(message)
        self.status = status
        self.faults = faults


async def json_table(request: Request) -> dict[str, Any]:
    """The JSON table of a request. Raises RefusedError."""
    body = bytearray()
    try:
        async with asyncio.timeout(uploads.STALL):
            async for chunk in request.stream():
                body += chunk
                if len(body) > MOST_SETTINGS:
                    raise RefusedError(413, "These settings are too long.")
        table = json.loads(body)
    except (ValueError, RecursionError):
        raise RefusedError(400, "This request is not valid JSON.") from None
    except TimeoutError:
        raise RefusedError(408, "This request did not arrive in time.") from None
    if not isinstance(table, dict):
        raise RefusedError(400, "This request is not a table.")
    return table


def _folder(desk: Desk, stage: str) -> tuple[int, Path]:
    wish = desk.have[stage]
    if wish is None:
        raise RefusedError(404, "This is not made yet.")
    return wish, desk.folder / f"work-{wish}"


def made_table(desk: Desk, stage: str, name: str) -> tuple[int, dict[str, Any]]:
    """The number of the wish that has reached a stage, and a table that it made. Raises RefusedError."""
    wish, folder = _folder(desk, stage)
    return wish, json.loads(_read(folder / name))


def made_json(desk: Desk, stage: str, name: str) -> Response:
    """A table that lies there as JSON, with the number of its wish put in front."""
    wish, folder = _folder(desk, stage)
    return Response(b'{"wish":%d,%b' % (wish, _read(folder / name)[1:]), media_type="application/json")


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        raise RefusedError(404, "This is not made yet.") from None


def json_file(path: Path) -> Response:
    """A file that holds JSON. Raises RefusedError where it is not made yet."""
    return Response(_read(path), media_type="application/json")


def file_answer(path: Path, attached: str = "") -> Response:
    """A file of a result, to be stored under the name `attached` if there is one. Raises RefusedError."""
    kind = RESULT_TYPES.get(path.suffix, "application/octet-stream")
    return Response(_read(path), media_type=kind, headers=attachment(attached) if attached else {})


def attachment(name: str) -> dict[str, str]:
    """The header that makes a browser store an answer under this name."""
    return {"content-disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"}


def fault_rows(fault: WishError) -> list[dict[str, str]]:
    """The faults of settings, each with its part and key."""
    return [{"part": one.part, "key": one.key, "message": one.message} for one in fault.faults]


def _fail(status: int, message: str, faults: list[dict[str, str]] | None = None) -> Response:
    return JSONResponse({"message": message, "faults": faults or []}, status)


async def refused(_request: Request, fault: Exception) -> Response:
    """What an answer of ours refuses, with its status."""
    status = fault.status if isinstance(fault, RefusedError) else 500
    return _fail(status, str(fault), list(fault.faults) if isinstance(fault, RefusedError) else [])


async def not_taken(request: Request, fault: Exception) -> Response:
    """A file that was not taken."""
    status = fault.status if isinstance(fault, uploads.UploadError) else 500
    answer = _fail(status, str(fault))
    if status == 413:  # noqa: PLR2004 - too large: no more than a little of the rest is waited for
        await _drain(request)
        answer.headers["connection"] = "close"
    return answer


async def _drain(request: Request) -> None:
    """Read up to DRAINED bytes of what was refused, for DRAIN_SECONDS at most: an answer to a file that is still coming
    is lost where the connection is closed before its last bytes were read.
    """
    left = DRAINED
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(DRAIN_SECONDS):
            while left > 0:
                message = await request.receive()
                if not message.get("more_body"):
                    return
                left -= len(message.get("body", b""))


async def at_fault(_request: Request, fault: Exception) -> Response:
    """A hull, a job or a setting at fault."""
    return _fail(422, str(fault), fault_rows(fault) if isinstance(fault, WishError) else [])


async def lost(_request: Request, _fault: Exception) -> Response:
    """A bench that has gone."""
    return _fail(500, LOST)


async def not_found(_request: Request, fault: Exception) -> Response:
    """An address without anything."""
    status = fault.status_code if isinstance(fault, HTTPException) else 404
    return _fail(status, "There is nothing at this address.")
