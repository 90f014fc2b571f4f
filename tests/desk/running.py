"""A desk server in a process of its own, and a client that talks to it as the page does."""

import contextlib
import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any

import httpx

ROOT = Path(__file__).parents[2]
MODELS = ROOT / "models"

PATIENCE = 120.0
"""s; far more than anything here takes on a busy machine."""


class Client:
    """Talks to one server; `base` is its address."""

    def __init__(self, address: str, process: "subprocess.Popen[str]", home: Path) -> None:
        self.address = address
        self.base = address.split("/enter", maxsplit=1)[0]
        self.process = process
        self.home = home
        self.http = httpx.Client(base_url=self.base, headers={"origin": self.base}, timeout=PATIENCE)

    def enter(self) -> "Client":
        """Open the page with the token."""
        answer = self.http.get(self.address)
        assert answer.status_code == 303, answer.text
        return self

    def desk(self) -> str:
        """A new desk's address."""
        answer = self.http.post("/api/desks")
        assert answer.status_code == 201, answer.text
        return f"/api/desks/{answer.json()['desk']}"

    def drop(self, desk: str, path: Path, name: str = "") -> httpx.Response:
        """Drop a file on a desk."""
        return self.http.put(f"{desk}/hull", params={"name": name or path.name}, content=path.read_bytes())

    def wish(self, desk: str, settings: dict[str, Any], rest: str = "0") -> httpx.Response:
        """Other settings."""
        return self.http.put(f"{desk}/settings", params={"rest": rest}, json={"settings": settings})

    def states(self, desk: str) -> Generator[dict[str, Any]]:
        """The states that the server tells, as they come."""
        with self.http.stream("GET", f"{desk}/events", timeout=PATIENCE) as answer:
            for line in answer.iter_lines():
                if line.startswith("data: {") and len(line) > len("data: {}"):
                    yield json.loads(line.removeprefix("data: "))

    def wait(self, desk: str, *states: str) -> dict[str, Any]:
        """The state once the hull has failed, or the work has come to one of these states."""
        with contextlib.closing(self.states(desk)) as told:
            for state in told:
                failed = state["hull"] and state["hull"]["state"] == "failed"
                if failed or state["work"]["state"] in states:
                    return state
        message = "the server ended"
        raise AssertionError(message)

    def wait_ready(self, desk: str) -> dict[str, Any]:
        """The state once the hull is read or refused."""
        with contextlib.closing(self.states(desk)) as told:
            for state in told:
                if state["hull"] and state["hull"]["state"] != "reading":
                    return state
        message = "the server ended"
        raise AssertionError(message)

    def left(self) -> list[str]:
        """What lies in the folder for temporary files."""
        return sorted(str(path.relative_to(self.home)) for path in self.home.rglob("*"))


@contextlib.contextmanager
def serving(home: Path, *words: str, code: int = 0) -> Iterator[Client]:
    """A server whose temporary files lie in `home`."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "TMPDIR": str(home)}
    process = subprocess.Popen(
        [sys.executable, "-m", "profiles", "desk", "--no-open", *words],
        env=environment,
        cwd=home,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    address = re.search(r"http://\S+", process.stdout.readline())
    if address is None:
        raise AssertionError(process.communicate(timeout=PATIENCE)[1])
    client = Client(address[0], process, home)
    try:
        yield client
    finally:
        client.http.close()
        if process.poll() is None:
            process.terminate()
        _, errors = process.communicate(timeout=PATIENCE)
    assert process.returncode == code, errors
    assert not errors, errors


def benches(server: int) -> list[int]:
    """Processes that a server has started, and theirs."""
    found = []
    for status in Path("/proc").glob("[0-9]*/status"):
        with contextlib.suppress(OSError):
            parent = re.search(r"^PPid:\s+(\d+)", status.read_text(), re.MULTILINE)
            if parent and int(parent[1]) == server:
                number = int(status.parent.name)
                found += [number, *benches(number)]
    return found


def gone(processes: list[int]) -> bool:
    """Whether all have ended, within a while."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        if not any(Path(f"/proc/{number}").exists() for number in processes):
            return True
        time.sleep(0.05)
    return False
