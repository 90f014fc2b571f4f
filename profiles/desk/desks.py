"""Desks: one for each tab of the browser, with its hull, its settings and the work that goes on for it.

    settings change --> coarse picture at once (`Desk.wish`)
                    --> after REST without another change, everything (`Desk._work`)

The newest wish wins: what is under way for an older one is ended. Results stay until newer ones replace them.
"""

import asyncio
import contextlib
import shutil
from collections.abc import AsyncIterator
from dataclasses import asdict, field
from pathlib import Path
from typing import Any

from profiles.desk.frames import Message
from profiles.desk.link import LOST, BenchLostError, Link
from profiles.desk.wishes import Tree, job_from, job_toml
from profiles.values import dataclass

REST = 0.25
"""s without another wish, after which the full work begins: a hand that moves a slider has stopped."""

STAGES = ("body", "sheets", "files")
"""Results in the order in which they come."""

Fault = dict[str, Any]


@dataclass(frozen=True, slots=True)
class HullState:
    """The hull of a desk as the page is told of it."""

    file: str
    """The user's name for it."""
    bytes: int
    state: str = "reading"
    """reading, ready or failed."""
    fault: Fault | None = None
    figures: dict[str, Any] | None = None
    notes: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class WorkState:
    """What goes on for the newest wish."""

    wish: int = 0
    state: str = "idle"
    """idle, working, done, failed or stopped."""
    stage: str = ""
    fault: Fault | None = None


@dataclass(slots=True)
class Shared:
    """What all desks share."""

    gate: asyncio.Semaphore
    """Long work at once."""
    spare: "asyncio.Task[Link] | None" = None
    """A bench that has loaded its libraries."""
    closing: asyncio.Event = field(default_factory=asyncio.Event)

    async def bench(self) -> Link:
        """A bench, and the next one begins to load."""
        ready, self.spare = self.spare, asyncio.create_task(Link.start())
        link = await ready if ready else await Link.start()
        return await Link.start() if link.lost else link


class Desk:
    """One tab."""

    def __init__(self, name: str, folder: Path, shared: Shared) -> None:
        self.name = name
        self.folder = folder
        self.settings: Tree = {}
        self.wanted: str | None = None
        self.hull: HullState | None = None
        self.work = WorkState()
        self.newest = 0
        self.have: dict[str, int | None] = dict.fromkeys(STAGES)
        self.uploading = False
        self.listeners = 0
        self.used = asyncio.get_running_loop().time()
        self._shared = shared
        self._file = ""
        self._uploads = 0
        self._link: Link | None = None
        self._reading: asyncio.Task[None] | None = None
        self._working: asyncio.Task[None] | None = None
        self._comparing: asyncio.Future[Message] | None = None
        self._drawing = asyncio.Lock()
        self._switching = asyncio.Lock()
        self._fetching = asyncio.Lock()
        self._changed: set[asyncio.Event] = set()

    # ---- what the page is told ------------------------------------------------------------------------------------

    def state(self) -> dict[str, Any]:
        """Everything that the page shows beside results."""
        base = f"/api/desks/{self.name}"
        hull = None
        if self.hull:
            hull = asdict(self.hull) | {"views": f"{base}/views.svg", "ghost": f"{base}/ghost"}
        return {
            "desk": self.name,
            "wish": self.newest,
            "settings": self.settings,
            "hull": hull,
            "wanted": self.wanted,
            "work": asdict(self.work),
            "have": self.have,
        }

    async def changes(self) -> AsyncIterator[dict[str, Any] | None]:
        """The state now and after every change; None from time to time, so that a lost connection is noticed."""
        changed = asyncio.Event()
        self._changed.add(changed)
        self.listeners += 1
        try:
            yield self.state()
            while not self._shared.closing.is_set():
                try:
                    async with asyncio.timeout(15):
                        await changed.wait()
                except TimeoutError:
                    yield None
                    continue
                changed.clear()
                yield self.state()
        finally:
            self._changed.discard(changed)
            self.listeners -= 1
            self.used = asyncio.get_running_loop().time()

    def wake(self) -> None:
        """Tell all listeners."""
        for changed in self._changed:
            changed.set()

    def _set_work(self, **values: Any) -> None:  # noqa: ANN401 - fields of the state
        self.work = WorkState(**(asdict(self.work) | values))
        self.wake()

    # ---- hull ------------------------------------------------------------------------------------------------------

    def next_upload(self, ending: str) -> Path:
        """Where a file goes that is being dropped; its name is ours."""
        self._uploads += 1
        return self.folder / f"upload-{self._uploads}{ending}"

    async def take_hull(self, path: Path, shown: str, length: int) -> None:
        """A new hull, which lies in the desk's folder, and is read at once."""
        if self._file and self._file != path.name:
            (self.folder / self._file).unlink(missing_ok=True)
        if self.wanted != shown and self.hull is not None:
            self.settings.pop("hull", None)  # they were for another file
        self.wanted, self._file = None, path.name
        self.have = dict.fromkeys(STAGES)
        self.hull = HullState(shown, length)
        await self._read()

    async def take_job(self, tree: Tree, file: str) -> None:
        """The settings of a job file, whose hull may be here already. Raises WishError."""
        job_from(tree, file, file)
        self.settings = tree
        if self.hull is not None and self.hull.file == file:
            await self._read()
            return
        await self._end_work()
        self.wanted, self.hull, self._file = file, None, ""
        self.newest += 1
        self.work = WorkState(self.newest)
        self.have = dict.fromkeys(STAGES)
        self.wake()

    async def _read(self) -> None:
        """Begin to read the hull; what is under way is ended."""
        async with self._switching:
            await self._begin_reading()

    async def _begin_reading(self) -> None:
        await self._end_work()
        if self._reading is not None and not self._reading.done():
            self._reading.cancel()
            await self._drop_bench()
        self.newest += 1
        self.work = WorkState(self.newest)
        if self.hull is None:
            return
        self.hull = HullState(self.hull.file, self.hull.bytes)
        self.wake()
        self._reading = asyncio.create_task(self._read_hull(self.hull))

    async def _read_hull(self, hull: HullState) -> None:
        try:
            async with self._shared.gate:
                answer, _ = await self._ask({"do": "read"})
        except (BenchLostError, OSError):
            await self._drop_bench()
            answer = {"fault": {"message": LOST, "code": 3}}
        fault = answer.get("fault")
        if fault:
            self.hull = HullState(hull.file, hull.bytes, "failed", fault)
        else:
            self.hull = HullState(hull.file, hull.bytes, "ready", None, answer["figures"], tuple(answer["notes"]))
        self.wake()
        if not fault:
            self._begin_work(0.0)

    # ---- wishes ----------------------------------------------------------------------------------------------------

    async def wish(self, tree: Tree, rest: float = REST) -> tuple[int, bytes | None, Fault | None]:
        """Other settings: the number of the wish, and its coarse picture as JSON; no picture where there can be none or
        a newer wish came meanwhile. Raises WishError, and the settings stay as they were.
        """
        job_from(tree, self._file or "hull.stl", self.hull.file if self.hull else "")
        other_hull = tree.get("hull", {}) != self.settings.get("hull", {})
        self.settings = tree
        if other_hull and self.hull is not None:
            await self._read()
            return self.newest, None, None
        self.newest += 1
        wish = self.newest
        async with self._switching:
            await self._end_work()
            if not self._is_ready():
                self.work = WorkState(wish)
                self.wake()
                return wish, None, None
            self._begin_work(rest)
        try:
            picture, fault = await self._draw(wish)
        except BenchLostError:
            return wish, None, {"message": LOST, "code": 3}
        return wish, picture, fault

    def is_newest(self, wish: int) -> bool:
        """Whether no newer wish has come."""
        return wish == self.newest

    async def _draw(self, wish: int) -> tuple[bytes | None, Fault | None]:
        async with self._drawing:
            if wish != self.newest:
                return None, None
            answer, content = await self._ask({"do": "sketch", "wish": wish})
        return content or None, answer.get("fault")

    def _is_ready(self) -> bool:
        return self.hull is not None and self.hull.state == "ready"

    # ---- long work -------------------------------------------------------------------------------------------------

    def _begin_work(self, rest: float) -> None:
        """Start the full work for the newest wish, after a pause."""
        if self._working is not None:
            self._working.cancel()
        self.work = WorkState(self.newest, "working", "waiting for the hand to rest")
        self.wake()
        self._working = asyncio.create_task(self._work(self.newest, rest))

    async def start_work(self) -> None:
        """Start the full work again, once it was stopped."""
        async with self._switching:
            await self._end_work()
            if self._is_ready():
                self._begin_work(0.0)

    async def _work(self, wish: int, rest: float) -> None:
        await asyncio.sleep(rest)
        foam = self.settings.get("foam", {})
        if foam.get("thickness") is None and not self.settings.get("boards") and not self.settings.get("offcuts"):
            self._set_work(state="idle", stage="")
            return
        self._set_work(stage="waiting for other work")
        async with self._shared.gate:
            await self._make(wish)

    async def _make(self, wish: int) -> None:
        """The full work, in a fork of the bench."""
        folder = f"work-{wish}"
        text = job_toml(self.settings, self.hull.file if self.hull else "")
        outcome: asyncio.Future[Message] = asyncio.get_running_loop().create_future()

        def hear(message: Message) -> None:
            if "stage" in message:
                self._set_work(stage=message["stage"])
            elif "have" in message:
                self._take_results(wish, message["have"])
            elif not outcome.done():
                outcome.set_result(message)

        try:
            await self._ask({"do": "sketch", "wish": wish})  # the bench is there, and has the hull
            link = self._bench()
            number = link.follow(self._request({"do": "work", "folder": folder, "job": text}), hear)
        except (BenchLostError, OSError):
            await self._drop_bench()
            self._set_work(state="failed", stage="", fault={"message": LOST, "code": 3})
            return
        try:
            message = await outcome
        except asyncio.CancelledError:
            await self._stop("work", number)
            if self.have["body"] != wish:
                await asyncio.to_thread(shutil.rmtree, self.folder / folder, ignore_errors=True)
            raise
        link.forget(number)
        if "done" in message:
            self._set_work(state="done", stage="")
            return
        self._set_work(state="failed", stage="", fault=message.get("fault") or {"message": LOST, "code": 3})

    def _take_results(self, wish: int, what: str) -> None:
        """Results of a wish replace older ones, whose folders go."""
        for stage in ("body",) if what == "body" else ("sheets", "files"):
            self.have[stage] = wish
        kept = {f"work-{number}" for number in self.have.values()}
        for folder in self.folder.glob("work-*"):
            if folder.name not in kept:
                shutil.rmtree(folder, ignore_errors=True)
        self.wake()

    async def _stop(self, what: str, number: int) -> None:
        """End a fork and wait until it has ended."""
        link = self._link
        if link is None:
            return
        link.forget(number)
        with contextlib.suppress(BenchLostError):
            await link.ask({"do": "stop", "what": what, "number": number})

    async def _end_work(self) -> None:
        """End the full work, if there is any."""
        working, self._working = self._working, None
        if working is not None and not working.done():
            working.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await working

    async def stop(self) -> None:
        """End all that takes long, because the user wants it."""
        if self._comparing is not None and not self._comparing.done():
            self._comparing.set_result({"stopped": True})
        if self._reading is not None and not self._reading.done() and self.hull is not None:
            self._reading.cancel()
            await self._drop_bench()
            fault = {"message": "Reading was stopped. Drop the file again.", "code": 130}
            self.hull = HullState(self.hull.file, self.hull.bytes, "failed", fault)
        at_work = self.work.state == "working"
        await self._end_work()
        if at_work:
            self._set_work(state="stopped", stage="")
        self.wake()

    async def compare(self, foams: list[float], fits: list[float]) -> Message:
        """Rows of other ways to build, or a fault, or that it was stopped. A newer comparison ends an older one."""
        if self._comparing is not None and not self._comparing.done():
            self._comparing.set_result({"stopped": True})
        outcome: asyncio.Future[Message] = asyncio.get_running_loop().create_future()
        self._comparing = outcome

        def hear(message: Message) -> None:
            if not outcome.done():
                outcome.set_result(message)

        if not self._is_ready():
            return {"fault": {"message": "There is no hull yet. Choose a file first.", "code": 3}}
        try:
            number = self._bench().follow(self._request({"do": "compare", "foams": foams, "fits": fits}), hear)
        except BenchLostError:
            return {"fault": {"message": LOST, "code": 3}}
        try:
            message = await outcome
        finally:
            if self._comparing is outcome:
                await self._stop("compare", number)
        if "lost" in message or "ended" in message:
            return {"fault": {"message": LOST, "code": 3}}
        return message

    async def kerf_test(self) -> tuple[Message, bytes]:
        """The page of the kerf test. Raises BenchLostError."""
        return await self._ask({"do": "kerf test"})

    # ---- the bench -------------------------------------------------------------------------------------------------

    def _request(self, message: Message) -> Message:
        shown = self.hull.file if self.hull else "hull.stl"
        return message | {"settings": self.settings, "file": self._file or "hull.stl", "name": shown}

    async def _ask(self, message: Message) -> tuple[Message, bytes]:
        """Ask the bench; a new one is fetched where there is none, and reads the hull first."""
        async with self._fetching:
            link = self._link
            if link is None or link.lost:
                link = self._link = await self._shared.bench()
                await link.ask({"do": "move", "folder": str(self.folder)})
                if message["do"] != "read" and self._is_ready():
                    await link.ask(self._request({"do": "read"}))
        return await link.ask(self._request(message))

    def _bench(self) -> Link:
        if self._link is None or self._link.lost:
            raise BenchLostError
        return self._link

    async def _drop_bench(self) -> None:
        link, self._link = self._link, None
        if link is not None:
            await link.close()

    async def close(self) -> None:
        """End everything of this desk and remove its folder."""
        for task in (self._working, self._reading):
            if task is not None:
                task.cancel()
        if self._comparing is not None and not self._comparing.done():
            self._comparing.set_result({"stopped": True})
        await self._drop_bench()
        await asyncio.to_thread(shutil.rmtree, self.folder, ignore_errors=True)
