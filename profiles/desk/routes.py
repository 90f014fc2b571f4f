"""What the server answers: the page, desks, and what their benches have made. The door (`safety`) stands in front."""

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from profiles import __version__
from profiles.book.cautions import CAUTIONS
from profiles.demos import NAMES, about_demo, demo_files
from profiles.desk import uploads
from profiles.desk.desks import REST, Desk
from profiles.desk.fields import all_parts
from profiles.desk.link import LOST, BenchLostError
from profiles.desk.registry import MOST_DESKS, Desks, FullError
from profiles.desk.wishes import WishError, clean_tree, job_toml, read_job
from profiles.errors import StationerError
from profiles.jobfile import MAX_JOB_BYTES, read_tree

PAGE = Path(__file__).parent / "page"

TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
}
"""Files of the page that are handed out, and what a browser is told they are."""

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

MOST_UPLOADS = 4
"""Files that arrive at once, on all desks."""

Answer = Callable[[Request], Awaitable[Response]]


class RefusedError(Exception):
    """An answer with a status, a sentence, and the fields at fault."""

    def __init__(self, status: int, message: str, faults: tuple[dict[str, str], ...] = ()) -> None:
        super().__init__(message)
        self.status = status
        self.faults = faults


class Routes:
    """Answers for one server."""

    def __init__(self, desks: Desks, most_upload: int = uploads.MOST_BYTES) -> None:
        self._desks = desks
        self._most_upload = most_upload
        self._uploading = 0
        self._page = _page_files()
        self._plotly = plotly_file()

    def application(self) -> Starlette:
        """The ASGI application."""

        @asynccontextmanager
        async def life(_app: Starlette) -> AsyncIterator[None]:
            self._desks.start()
            try:
                yield
            finally:
                await self._desks.close()

        one = "/api/desks/{desk}"
        routes = [
            Route("/", self.page),
            Route("/page/{name:path}", self.page),
            Route("/api/start", self.start),
            Route("/api/alive", self.alive),
            Route("/api/desks", self.new_desk, methods=["POST"]),
            Route(one, self.state),
            Route(one, self.remove, methods=["DELETE"]),
            Route(f"{one}/hull", self.upload, methods=["PUT"]),
            Route(f"{one}/demo", self.demo, methods=["PUT"]),
            Route(f"{one}/settings", self.settings, methods=["PUT"]),
            Route(f"{one}/stop", self.stop, methods=["POST"]),
            Route(f"{one}/work", self.work, methods=["POST"]),
            Route(f"{one}/compare", self.compare, methods=["POST"]),
            Route(f"{one}/events", self.events),
            Route(f"{one}/ghost", self.ghost),
            Route(f"{one}/views.svg", self.views),
            Route(f"{one}/kerf-test.pdf", self.kerf_test),
            Route(f"{one}/job.toml", self.job_toml),
            Route(f"{one}/blocks/{{number:int}}", self.block),
            Route(f"{one}/sheets", self.sheets),
            Route(f"{one}/sheets/{{number:int}}.svg", self.sheet),
            Route(f"{one}/files", self.files),
            Route(f"{one}/files/{{name}}", self.file),
            Route(f"{one}/{{what}}", self.result),
        ]
        return Starlette(
            routes=routes,
            lifespan=life,
            exception_handlers={
                RefusedError: _refused,
                uploads.UploadError: _not_taken,
                StationerError: _at_fault,
                BenchLostError: _lost,
                HTTPException: _not_found,
            },
        )

    # ---- the page --------------------------------------------------------------------------------------------------

    async def page(self, request: Request) -> Response:
        """A file of the page; plotly.js comes from its own package."""
        name = request.path_params.get("name", "index.html")
        path = self._plotly if name == "plotly.min.js" else self._page.get(name)
        if path is None:
            raise RefusedError(404, f"The page has no file {name!r}.")
        return FileResponse(path, media_type=TYPES[path.suffix], headers={"cache-control": "no-cache"})

    async def start(self, _request: Request) -> Response:
        """All that a page needs to know before there is a hull."""
        demos = []
        for name in NAMES:
            job, hull = demo_files(name)
            demos.append({"name": name, "about": about_demo(job), "file": hull.name})
        cautions = [
            {"key": hazard.name.lower(), "heading": str(hazard), "lines": [one.text]}
            for hazard, one in CAUTIONS.items()
        ]
        return JSONResponse(
            {
                "version": __version__,
                "accept": [*uploads.ENDINGS, ".gz"],
                "max_upload": self._most_upload,
                "max_desks": MOST_DESKS,
                "demos": demos,
                "cautions": cautions,
                "parts": all_parts(),
            }
        )

    async def alive(self, _request: Request) -> Response:
        """Nothing, but it is said."""
        return Response(status_code=204)

    # ---- desks -----------------------------------------------------------------------------------------------------

    def _desk(self, request: Request) -> Desk:
        desk = self._desks.find(request.path_params["desk"])
        if desk is None:
            raise RefusedError(404, "This desk is no longer there. Reload the page for a new one.")
        return desk

    async def new_desk(self, _request: Request) -> Response:
        """A desk for a tab."""
        try:
            desk = await self._desks.add()
        except FullError:
            message = f"{MOST_DESKS} desks are open, which is as many as there may be. Close one of their tabs."
            raise RefusedError(503, message) from None
        return JSONResponse({"desk": desk.name}, 201)

    async def state(self, request: Request) -> Response:
        """What a page shows after a reload."""
        return JSONResponse(self._desk(request).state())

    async def remove(self, request: Request) -> Response:
        """A tab is done with its desk."""
        await self._desks.remove(self._desk(request).name)
        return Response(status_code=204)

    async def events(self, request: Request) -> Response:
        """The state at every change, as server-sent events."""
        desk = self._desk(request)

        async def stream() -> AsyncIterator[str]:
            async for state in desk.changes():
                yield ": still here\n\n" if state is None else f"event: state\ndata: {json.dumps(state)}\n\n"
            yield "event: bye\ndata: {}\n\n"

        return StreamingResponse(stream(), media_type="text/event-stream", headers={"cache-control": "no-store"})

    # ---- hull and settings -----------------------------------------------------------------------------------------

    async def upload(self, request: Request) -> Response:
        """A hull, or a job file."""
        desk = self._desk(request)
        name = uploads.name_of(request.query_params.get("name", ""))
        most = MAX_JOB_BYTES if name.is_job else self._most_upload
        uploads.check_length(request.headers.get("content-length"), name, most)
        if desk.uploading or self._uploading >= MOST_UPLOADS:
            raise RefusedError(503, "Another file is still arriving. Drop this one again in a moment.")
        target = desk.next_upload(name.ending)
        desk.uploading = True
        self._uploading += 1
        try:
            length = await uploads.receive(request.stream(), target, name, most)
        except ClientDisconnect:
            return Response(status_code=400)
        finally:
            desk.uploading = False
            self._uploading -= 1
        if name.is_job:
            await _take_job(desk, target, name.shown)
        else:
            await desk.take_hull(target, name.shown, length)
        return JSONResponse(desk.state(), 202)

    async def demo(self, request: Request) -> Response:
        """A demo hull with its job."""
        desk = self._desk(request)
        name = (await _table(request)).get("name")
        job, hull = demo_files(name if isinstance(name, str) else "")
        tree, _ = read_job(read_tree(job))
        target = desk.next_upload(hull.suffix)
        content = hull.read_bytes()
        target.write_bytes(content)
        await desk.take_job(tree, hull.name)
        await desk.take_hull(target, hull.name, len(content))
        return JSONResponse(desk.state(), 202)

    async def settings(self, request: Request) -> Response:
        """Other settings, and the coarse picture of them."""
        desk = self._desk(request)
        tree = clean_tree((await _table(request)).get("settings"))
        rest = 0.0 if request.query_params.get("rest") == "0" else REST
        wish, picture, fault = await desk.wish(tree, rest)
        head = {"wish": wish}
        if picture is None:
            return JSONResponse(head | {"coarse": None, "superseded": not desk.is_newest(wish), "fault": fault})
        return Response(b'{"wish":%d,"coarse":%b}' % (wish, picture), media_type="application/json")

    async def stop(self, request: Request) -> Response:
        """End what takes long."""
        desk = self._desk(request)
        await desk.stop()
        return JSONResponse(desk.state(), 202)

    async def work(self, request: Request) -> Response:
        """Begin it again."""
        desk = self._desk(request)
        await desk.start_work()
        return JSONResponse(desk.state(), 202)

    async def compare(self, request: Request) -> Response:
        """Other ways to build, as rows."""
        desk = self._desk(request)
        table = await _table(request)
        message = await desk.compare(_lengths(table, "foams"), _lengths(table, "fits"))
        if "stopped" in message:
            raise RefusedError(409, "The comparison was stopped.")
        if "fault" in message:
            raise RefusedError(422, message["fault"]["message"])
        return JSONResponse({"rows": message["rows"]})

    # ---- results ---------------------------------------------------------------------------------------------------

    async def ghost(self, request: Request) -> Response:
        """The hull as a mesh."""
        return _json_file(self._desk(request).folder / "ghost.json")

    async def views(self, request: Request) -> Response:
        """Side, plan and end view of the hull."""
        return _file(self._desk(request).folder / "views.svg")

    async def result(self, request: Request) -> Response:
        """The body, its meshes or its deviation."""
        what = request.path_params["what"]
        if what not in {"body", "meshes", "deviation"}:
            raise RefusedError(404, "There is nothing at this address.")
        desk = self._desk(request)
        return _with_wish(desk, "body", f"{what}.json")

    async def block(self, request: Request) -> Response:
        """The templates of one block."""
        desk = self._desk(request)
        wish, blocks = _table_of(desk, "body", "blocks.json")
        block = blocks.get(str(request.path_params["number"]))
        if block is None:
            raise RefusedError(404, "There is no block with this number.")
        return JSONResponse({"wish": wish} | block)

    async def sheets(self, request: Request) -> Response:
        """The list of all sheets."""
        desk = self._desk(request)
        wish, table = _table_of(desk, "sheets", "sheets.json")
        for sheet in table["sheets"]:
            sheet["url"] = f"/api/desks/{desk.name}/sheets/{sheet['number']}.svg?wish={wish}"
        return JSONResponse({"wish": wish} | table)

    async def sheet(self, request: Request) -> Response:
        """One sheet as it is printed."""
        desk = self._desk(request)
        wish, table = _table_of(desk, "sheets", "sheets.json")
        number = request.path_params["number"]
        name = next((sheet["file"] for sheet in table["sheets"] if sheet["number"] == number), None)
        if name is None:
            raise RefusedError(404, "There is no sheet with this number.")
        return _file(desk.folder / f"work-{wish}" / "files" / name)

    async def files(self, request: Request) -> Response:
        """The list of files to take away."""
        desk = self._desk(request)
        wish, table = _table_of(desk, "files", "files.json")
        for file in table["files"]:
            file["url"] = f"/api/desks/{desk.name}/files/{file['name']}?wish={wish}"
        return JSONResponse({"wish": wish} | table)

    async def file(self, request: Request) -> Response:
        """One of them."""
        desk = self._desk(request)
        wish, table = _table_of(desk, "files", "files.json")
        asked = request.path_params["name"]
        name = next((file["name"] for file in table["files"] if file["name"] == asked), None)
        if name is None:
            raise RefusedError(404, "There is no file with this name.")
        stem = Path(desk.hull.file).name.split(".")[0] if desk.hull else "hull"
        return _file(desk.folder / f"work-{wish}" / "files" / name, attached=f"{stem}-{name}")

    async def job_toml(self, request: Request) -> Response:
        """The job as it stands."""
        desk = self._desk(request)
        file = desk.hull.file if desk.hull else desk.wanted
        if not file:
            raise RefusedError(404, "There is no hull yet. Choose a file first.")
        text = job_toml(desk.settings, file)
        return Response(text, media_type=RESULT_TYPES[".toml"], headers=_attachment(f"{file.split('.')[0]}.toml"))

    async def kerf_test(self, request: Request) -> Response:
        """The page of the kerf test."""
        message, content = await self._desk(request).kerf_test()
        if "fault" in message:
            raise RefusedError(422, message["fault"]["message"])
        return Response(content, media_type="application/pdf", headers=_attachment("kerf-test.pdf"))


def _page_files() -> dict[str, Path]:
    """The files of the page by their addresses; no other is ever handed out."""
    paths = (path for path in PAGE.rglob("*") if path.suffix in TYPES and path.is_file())
    return {path.relative_to(PAGE).as_posix(): path for path in paths}


def plotly_file() -> Path | None:
    """The script that draws, as the plotly package brings it; None where that is not installed."""
    spec = find_spec("plotly")
    places = (spec.submodule_search_locations or []) if spec else []
    found = (Path(place) / "package_data" / "plotly.min.js" for place in places)
    return next((path for path in found if path.is_file()), None)


async def _take_job(desk: Desk, path: Path, shown: str) -> None:
    try:
        tree, file = read_job(await asyncio.to_thread(read_tree, path))
        await desk.take_job(tree, file)
    except StationerError as fault:
        words = str(fault).replace(str(path), shown)
        faults = tuple(_fault_rows(fault)) if isinstance(fault, WishError) else ()
        raise RefusedError(422, words, faults) from None
    finally:
        path.unlink(missing_ok=True)


async def _table(request: Request) -> dict[str, Any]:
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


def _lengths(table: dict[str, Any], key: str) -> list[float]:
    from profiles.units import length_mm

    values = table.get(key, [])
    try:
        lengths = [length_mm(value) for value in values]
    except (TypeError, ValueError) as fault:
        raise RefusedError(422, f"{key}: {fault}.") from None
    if any(not 0 < length < float("inf") for length in lengths):
        raise RefusedError(422, f"{key}: expected lengths above 0.")
    return lengths


def _folder(desk: Desk, stage: str) -> tuple[int, Path]:
    wish = desk.have[stage]
    if wish is None:
        raise RefusedError(404, "This is not made yet.")
    return wish, desk.folder / f"work-{wish}"


def _table_of(desk: Desk, stage: str, name: str) -> tuple[int, dict[str, Any]]:
    wish, folder = _folder(desk, stage)
    return wish, json.loads(_read(folder / name))


def _with_wish(desk: Desk, stage: str, name: str) -> Response:
    """A table that lies there as JSON, with the number of its wish put in front."""
    wish, folder = _folder(desk, stage)
    return Response(b'{"wish":%d,%b' % (wish, _read(folder / name)[1:]), media_type="application/json")


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        raise RefusedError(404, "This is not made yet.") from None


def _json_file(path: Path) -> Response:
    return Response(_read(path), media_type="application/json")


def _file(path: Path, attached: str = "") -> Response:
    kind = RESULT_TYPES.get(path.suffix, "application/octet-stream")
    return Response(_read(path), media_type=kind, headers=_attachment(attached) if attached else {})


def _attachment(name: str) -> dict[str, str]:
    """The header that makes a browser store an answer under this name."""
    return {"content-disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"}


def _fault_rows(fault: WishError) -> list[dict[str, str]]:
    return [{"part": one.part, "key": one.key, "message": one.message} for one in fault.faults]


def _fail(status: int, message: str, faults: list[dict[str, str]] | None = None) -> Response:
    return JSONResponse({"message": message, "faults": faults or []}, status)


async def _refused(_request: Request, fault: Exception) -> Response:
    status = fault.status if isinstance(fault, RefusedError) else 500
    return _fail(status, str(fault), list(fault.faults) if isinstance(fault, RefusedError) else [])


async def _not_taken(request: Request, fault: Exception) -> Response:
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


async def _at_fault(_request: Request, fault: Exception) -> Response:
    return _fail(422, str(fault), _fault_rows(fault) if isinstance(fault, WishError) else [])


async def _lost(_request: Request, _fault: Exception) -> Response:
    return _fail(500, LOST)


async def _not_found(_request: Request, fault: Exception) -> Response:
    status = fault.status_code if isinstance(fault, HTTPException) else 404
    return _fail(status, "There is nothing at this address.")
