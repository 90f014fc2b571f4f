"""The running server: a port of this machine, the page in the browser, and an end that leaves nothing."""

import asyncio
import contextlib
import signal
import socket
from collections.abc import Callable, Iterator

import uvicorn

from profiles.desk.registry import Desks
from profiles.desk.rooms import private_folder
from profiles.desk.routes import Routes
from profiles.desk.safety import Door
from profiles.desk.uploads import MOST_BYTES
from profiles.errors import FolderError, WordsError

ADDRESS = "127.0.0.1"
"""The machine itself; nobody else's can reach it."""

FIRST_PORT = 8600
"""Tried first when no port is asked for."""

PORTS = 20
"""Ports that are tried one after the other: a second desk takes the next."""

PATIENCE = 3
"""s that open connections are given at the end."""

BACKLOG = 256
"""Connections that wait to be accepted."""


def open_socket(port: int | None) -> socket.socket:
    """A socket on the port that is asked for, or on the first free one. Raises WordsError where there is none."""
    wanted = [port] if port is not None else [*range(FIRST_PORT, FIRST_PORT + PORTS), 0]
    for number in wanted:
        place = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            place.bind((ADDRESS, number))
            place.listen(BACKLOG)
        except OSError:
            place.close()
            continue
        return place
    message = f"--port: port {port} is taken or not allowed"
    raise WordsError(message, remedy="Give another, or leave it out.")


class _Server(uvicorn.Server):
    """The server of uvicorn with our own answer to signals: it ends, and everything that lies about is removed."""

    def __init__(self, config: uvicorn.Config, desks: Desks) -> None:
        super().__init__(config)
        self._desks = desks

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Instead of uvicorn's, which would pass a signal on."""
        loop = asyncio.get_running_loop()
        ends = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]
        for number in ends:
            loop.add_signal_handler(number, self._end)
        try:
            yield
        finally:
            for number in ends:
                loop.remove_signal_handler(number)

    def _end(self) -> None:
        """A first signal lets answers finish, a second does not."""
        self._desks.end_streams()
        self.force_exit = self.should_exit
        self.should_exit = True


def serve(port: int | None, ready: Callable[[str], object], most_upload: int = MOST_BYTES) -> None:
    """Serve the desk until a signal comes; `ready` is called with the address that opens it.

    Raises WordsError for a port that cannot be had, FolderError where there is no place for temporary files.
    """
    with open_socket(port) as place:
        try:
            with private_folder() as folder:
                desks = Desks(folder)
                door = Door(Routes(desks, most_upload).application(), place.getsockname()[1])
                config = uvicorn.Config(
                    door,
                    http="h11",
                    ws="none",
                    lifespan="on",
                    log_level="critical",
                    access_log=False,
                    server_header=False,
                    proxy_headers=False,
                    timeout_graceful_shutdown=PATIENCE,
                )
                ready(door.address)
                asyncio.run(_Server(config, desks).serve([place]))
        except PermissionError as fault:
            message = f"the folder for temporary files cannot be used: {fault.strerror}"
            raise FolderError(message, remedy="Set TMPDIR to a folder that you can write to.") from None
