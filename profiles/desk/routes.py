"""What the server answers: the page, desks, and what their benches have made. The door (`safety`) stands in front."""

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from profiles import __version__
from profiles.book.cautions import CAUTIONS
from profiles.demos import NAMES, about_demo, demo_files
from profiles.desk import uploads
from profiles.desk.answers import (
    RESULT_TYPES,
    RefusedError,
    at_fault,
    attachment,
    fault_rows,
    file_answer,
    json_file,
    json_table,
    lost,
    made_json,
    made_table,
    not_found,
    not_taken,
    refused,
)
from profiles.desk.desks import REST, Desk
from profiles.desk.fields import all_parts
from profiles.desk.link import BenchLostError
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

MOST_UPLOADS = 4
"""Files that arrive at once, on all desks."""

Answer = Callable[[Request], Awaitable[Response]]


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
                RefusedError: refused,
                uploads.UploadError: not_taken,
                StationerError: at_fault,
                BenchLostError: lost,
                HTTPException: not_found,
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
        name = (await json_table(request)).get("name")
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
        tree = clean_tree((await json_table(request)).get("settings"))
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
        table = await json_table(request)
        message = await desk.compare(_lengths(table, "foams"), _lengths(table, "fits"))
        if "stopped" in message:
            raise RefusedError(409, "The comparison was stopped.")
        if "fault" in message:
            raise RefusedError(422, message["fault"]["message"])
        return JSONResponse({"rows": message["rows"]})

    # ---- results ---------------------------------------------------------------------------------------------------

    async def ghost(self, request: Request) -> Response:
        """The hull as a mesh."""
        return json_file(self._desk(request).folder / "ghost.json")

    async def views(self, request: Request) -> Response:
        """Side, plan and end view of the hull."""
        return file_answer(self._desk(request).folder / "views.svg")

    async def result(self, request: Request) -> Response:
        """The body, its meshes or its deviation."""
        what = request.path_params["what"]
        if what not in {"body", "meshes", "deviation"}:
            raise RefusedError(404, "There is nothing at this address.")
        desk = self._desk(request)
        return made_json(desk, "body", f"{what}.json")

    async def block(self, request: Request) -> Response:
        """The templates of one block."""
        desk = self._desk(request)
        wish, blocks = made_table(desk, "body", "blocks.json")
        block = blocks.get(str(request.path_params["number"]))
        if block is None:
            raise RefusedError(404, "There is no block with this number.")
        return JSONResponse({"wish": wish} | block)

    async def sheets(self, request: Request) -> Response:
        """The list of all sheets."""
        return _listed(self._desk(request), "sheets", lambda sheet: f"{sheet['number']}.svg")

    async def sheet(self, request: Request) -> Response:
        """One sheet as it is printed."""
        path = _path_of(self._desk(request), "sheets", "number", request.path_params["number"], "file")
        return file_answer(path)

    async def files(self, request: Request) -> Response:
        """The list of files to take away."""
        return _listed(self._desk(request), "files", lambda file: str(file["name"]))

    async def file(self, request: Request) -> Response:
        """One of them."""
        desk = self._desk(request)
        path = _path_of(desk, "files", "name", request.path_params["name"], "name")
        stem = Path(desk.hull.file).name.split(".")[0] if desk.hull else "hull"
        return file_answer(path, attached=f"{stem}-{path.name}")

    async def job_toml(self, request: Request) -> Response:
        """The job as it stands."""
        desk = self._desk(request)
        file = desk.hull.file if desk.hull else desk.wanted
        if not file:
            raise RefusedError(404, "There is no hull yet. Choose a file first.")
        text = job_toml(desk.settings, file)
        return Response(text, media_type=RESULT_TYPES[".toml"], headers=attachment(f"{file.split('.')[0]}.toml"))

    async def kerf_test(self, request: Request) -> Response:
        """The page of the kerf test."""
        message, content = await self._desk(request).kerf_test()
        if "fault" in message:
            raise RefusedError(422, message["fault"]["message"])
        return Response(content, media_type="application/pdf", headers=attachment("kerf-test.pdf"))


def _listed(desk: Desk, what: str, address: Callable[[dict[str, Any]], str]) -> Response:
    """The sheets or the files of a result, each with its address. Raises RefusedError."""
    wish, table = made_table(desk, what, f"{what}.json")
    for row in table[what]:
        row["url"] = f"/api/desks/{desk.name}/{what}/{address(row)}?wish={wish}"
    return JSONResponse({"wish": wish} | table)


def _path_of(desk: Desk, what: str, key: str, asked: object, named: str) -> Path:
    """The file of the sheet or file that is asked for: only what is listed has one. Raises RefusedError."""
    wish, table = made_table(desk, what, f"{what}.json")
    name = next((row[named] for row in table[what] if row[key] == asked), None)
    if name is None:
        raise RefusedError(404, f"There is no {what.removesuffix('s')} with this {key}.")
    return desk.folder / f"work-{wish}" / "files" / str(name)


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
        faults = tuple(fault_rows(fault)) if isinstance(fault, WishError) else ()
        raise RefusedError(422, words, faults) from None
    finally:
        path.unlink(missing_ok=True)


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
