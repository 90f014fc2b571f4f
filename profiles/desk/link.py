"""The server's end of a bench: requests over a pipe, answers as they come, and an end that leaves nothing."""

import asyncio
import contextlib
import os
import signal
import sys
from collections.abc import Callable
from itertools import count
from pathlib import Path

import profiles
from profiles.desk.frames import HEAD, Message, lengths, packed, table_of

LOST = "The process that worked on this job has ended, perhaps for lack of memory. The page goes on; try again."
"""What is said where a bench or a fork of it died."""

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""As the command line sets them: sums then round alike, and a bench can be forked."""


class BenchLostError(Exception):
    """The process of a bench has ended."""


Hear = Callable[[Message], None]
"""Called with every message about one request."""


class Link:
    """A bench process, from the server's side."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self._process = process
        self._numbers = count(1)
        self._waiting: dict[int, asyncio.Future[tuple[Message, bytes]]] = {}
        self._hearing: dict[int, Hear] = {}
        self.lost = False
        self._listening = asyncio.create_task(self._listen())

    @classmethod
    async def start(cls) -> "Link":
        """A new bench, which loads its libraries meanwhile."""
        home = str(Path(profiles.__file__).parents[1])
        paths = [home, *filter(None, [os.environ.get("PYTHONPATH")])]
        environment = os.environ | dict.fromkeys(ONE_THREAD, "1") | {"PYTHONPATH": os.pathsep.join(paths)}
        process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-P", "-m", "profiles.desk.bench"),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            env=environment,
            start_new_session=True,  # its forks are ended together with it, and a terminal's interrupt misses it
        )
        return cls(process)

    async def ask(self, message: Message) -> tuple[Message, bytes]:
        """The first answer to a request. Raises BenchLostError."""
        number = next(self._numbers)
        answer: asyncio.Future[tuple[Message, bytes]] = asyncio.get_running_loop().create_future()
        self._waiting[number] = answer
        try:
            self._send(message | {"request": number})
            return await answer
        finally:
            self._waiting.pop(number, None)

    def follow(self, message: Message, hear: Hear) -> int:
        """Send a request that is answered several times. Raises BenchLostError."""
        number = next(self._numbers)
        self._hearing[number] = hear
        self._send(message | {"request": number})
        return number

    def forget(self, number: int) -> None:
        """Answers to this request are not wanted any longer."""
        self._hearing.pop(number, None)

    def _send(self, message: Message) -> None:
        if self.lost or self._process.stdin is None or self._process.stdin.is_closing():
            raise BenchLostError
        self._process.stdin.write(packed(message))

    async def _listen(self) -> None:
        pipe = self._process.stdout
        with contextlib.suppress(asyncio.IncompleteReadError, ValueError, ConnectionError):
            while pipe is not None:
                table, content = lengths(await pipe.readexactly(HEAD.size))
                message = table_of(await pipe.readexactly(table))
                self._deliver(message, await pipe.readexactly(content))
        self._give_up()

    def _give_up(self) -> None:
        """Nobody waits for an answer any longer."""
        self.lost = True
        for answer in self._waiting.values():
            if not answer.done():
                answer.set_exception(BenchLostError())
        for hear in list(self._hearing.values()):
            hear({"lost": True})

    def _deliver(self, message: Message, content: bytes) -> None:
        number = message.pop("request", 0)
        answer = self._waiting.get(number)
        if answer is not None and not answer.done():
            answer.set_result((message, content))
        elif number in self._hearing:
            self._hearing[number](message)

    async def close(self) -> None:
        """End the bench and its forks."""
        self._give_up()
        self._listening.cancel()
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(self._process.pid, signal.SIGKILL)
        with contextlib.suppress(ProcessLookupError):
            await self._process.wait()
