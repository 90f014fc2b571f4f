"""All desks of a server: how many there may be, and how long one stays when its tab is gone."""

import asyncio
import contextlib
import secrets
from pathlib import Path

from profiles.desk.desks import Desk, Shared
from profiles.workers import cores

MOST_DESKS = 12
"""Tabs at once; each has a process with its hull."""

IDLE = 1800.0
"""s after which a desk that no tab listens to is cleared away. A reload is there again within a second."""

SWEEP = 60.0
"""s between two looks for such desks."""

FRESH = 20.0
"""s in which a desk that nobody listens to yet is not taken away for a new one."""


class FullError(Exception):
    """There are as many desks as there may be, all in use."""


class Desks:
    """The desks by their names."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._desks: dict[str, Desk] = {}
        self._made = 0
        self.shared = Shared(asyncio.Semaphore(max(1, cores())))
        self._sweeping: asyncio.Task[None] | None = None

    def start(self) -> None:
        """Load the first bench and begin to look for desks that are no longer used."""
        from profiles.desk.link import Link

        self.shared.spare = asyncio.create_task(Link.start())
        self._sweeping = asyncio.create_task(self._sweep())

    def find(self, name: str) -> Desk | None:
        """The desk of this name."""
        desk = self._desks.get(name)
        if desk:
            desk.used = asyncio.get_running_loop().time()
        return desk

    async def add(self) -> Desk:
        """A new desk; one that no tab listens to makes room for it. Raises FullError."""
        if len(self._desks) >= MOST_DESKS:
            now = asyncio.get_running_loop().time()
            free = [desk for desk in self._desks.values() if not desk.listeners and now - desk.used > FRESH]
            if not free:
                raise FullError
            await self.remove(min(free, key=lambda desk: desk.used).name)
        self._made += 1
        folder = self._folder / f"desk-{self._made}"
        folder.mkdir(mode=0o700)
        desk = Desk(secrets.token_urlsafe(12), folder, self.shared)
        self._desks[desk.name] = desk
        return desk

    async def remove(self, name: str) -> None:
        """Clear a desk away."""
        desk = self._desks.pop(name, None)
        if desk:
            await desk.close()

    async def _sweep(self) -> None:
        while True:
            await asyncio.sleep(SWEEP)
            now = asyncio.get_running_loop().time()
            for desk in list(self._desks.values()):
                if not desk.listeners and now - desk.used > IDLE:
                    await self.remove(desk.name)

    def end_streams(self) -> None:
        """Let all connections that listen come to their end."""
        self.shared.closing.set()
        for desk in self._desks.values():
            desk.wake()

    async def close(self) -> None:
        """End all desks and benches."""
        self.end_streams()
        if self._sweeping:
            self._sweeping.cancel()
        for name in list(self._desks):
            await self.remove(name)
        spare, self.shared.spare = self.shared.spare, None
        if spare:
            with contextlib.suppress(OSError):
                await (await spare).close()
