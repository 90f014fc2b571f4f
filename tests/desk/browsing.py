"""How tests start a desk, open a tab at it and work there. They wait for states of the page, never for time."""

import base64
import os
import re
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import trimesh

from profiles.values import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser, Page

CHROMIUM = os.environ.get("STATIONER_CHROMIUM", "/usr/bin/chromium")
FLAGS = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-sandbox")
ROOT = Path(__file__).parents[2]
SOON = 120_000
"""ms; the longest that any state is waited for on a machine that is busy with other work."""


@dataclass(frozen=True, slots=True)
class Desk:
    """A desk that runs: its process, where it is, and the cookie as Playwright keeps it."""

    process: "subprocess.Popen[str]"
    address: str
    """With the token."""
    cookies: Any

    @property
    def home(self) -> str:
        """The address without the token."""
        parts = urlsplit(self.address)
        return f"{parts.scheme}://{parts.netloc}"

    def enter(self, browser: "Browser") -> None:
        """Use the token once, and keep the cookie."""
        context = browser.new_context()
        context.new_page().goto(self.address)
        self.cookies.update(context.storage_state())
        context.close()

    @contextmanager
    def tab(self, browser: "Browser", *, clean: bool = True, **options: Any) -> "Iterator[Page]":  # noqa: ANN401 - as Playwright has them
        """A new tab at an empty desk; with `clean`, no script may fail and nothing else may be asked."""
        context = browser.new_context(
            storage_state=self.cookies, **{"viewport": {"width": 1440, "height": 900}, "locale": "en-GB", **options}
        )
        context.set_default_timeout(SOON)
        page = context.new_page()
        faults: list[str] = []
        page.on("pageerror", lambda error: faults.append(f"script: {error}"))
        page.on("console", lambda line: faults.append(line.text) if "Content Security" in line.text else None)
        page.on(
            "request",
            lambda asked: None if asked.url.startswith((self.home, "data:", "blob:")) else faults.append(asked.url),
        )
        page.goto(self.home)
        ready(page)
        try:
            yield page
            if clean:
                assert faults == []
        finally:
            context.close()


def start_desk(*more: str, home: Path | None = None) -> Desk:
    """Start `stationer desk` on a free port, and read its address."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "PYTHONUNBUFFERED": "1",
        **({"TMPDIR": str(home)} if home else {}),
    }
    process = subprocess.Popen(
        [sys.executable, "-m", "profiles", "desk", "--no-open", *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=environment,
        cwd=ROOT,
    )
    said = []
    assert process.stdout is not None
    for line in process.stdout:
        said.append(line)
        found = re.search(r"http://127\.0\.0\.1:\S+", line)
        if found:
            return Desk(process, found[0].rstrip("."), {})
    process.wait()
    message = f"the desk did not start: {''.join(said)}"
    raise AssertionError(message)


def stop_desk(desk: Desk) -> None:
    """End the desk, if it still runs."""
    if desk.process.poll() is None:
        desk.process.terminate()
    desk.process.wait(timeout=60)
    if desk.process.stdout:
        desk.process.stdout.close()


def ready(page: "Page") -> None:
    """Wait until the page has its desk."""
    page.wait_for_selector("html[data-ready=yes]", state="attached")


def choose_demo(page: "Page", name: str = "skerrywing") -> None:
    """Take a demo hull by its button."""
    if page.locator("#more-demos").get_attribute("open") is None:
        page.locator("#more-demos > summary").click()
    page.locator(f"[data-demo={name}]").click()


def drop_file(page: "Page", path: Path, name: str | None = None) -> None:
    """Drop a file on the page as a hand with a mouse does."""
    transfer = page.evaluate_handle(
        """([text, name]) => {
            const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
            const transfer = new DataTransfer();
            transfer.items.add(new File([bytes], name));
            return transfer;
        }""",
        [base64.b64encode(path.read_bytes()).decode(), name or path.name],
    )
    page.dispatch_event(".drop", "drop", {"dataTransfer": transfer})


def hull_ready(page: "Page", file: str) -> None:
    """Wait until the figures of a hull are on the page."""
    page.wait_for_selector(f"[data-hull='{file}']")


def type_in(page: "Page", selector: str, words: str) -> None:
    """Type a value into a field and leave it."""
    field = page.locator(selector)
    field.fill(words)
    field.press("Tab")


def body_ready(page: "Page") -> None:
    """Wait until the exact body of the newest settings is drawn."""
    page.wait_for_selector("#body[data-stale=no] .scene[data-picture=exact]")


def files_ready(page: "Page") -> None:
    """Wait until the files of the newest settings are there."""
    page.wait_for_selector("html[data-files=current]", state="attached")


def download(page: "Page", name: str, folder: Path) -> Path:
    """Take a file by its link."""
    with page.expect_download() as taken:
        page.locator(f"[data-file='{name}']").click()
    path = folder / name
    taken.value.save_as(path)
    return path


def ball(folder: Path, name: str = "ball.stl", subdivisions: int = 4, stretch: float = 3.0) -> Path:
    """A body like an airship, 150 mm long, as STL: 5,120 triangles with four subdivisions."""
    mesh = trimesh.creation.icosphere(subdivisions=subdivisions, radius=25.0)
    mesh.apply_scale([stretch, 1.0, 0.8])
    path = folder / name
    path.write_bytes(mesh.export(file_type="stl"))
    return path


def small_job(page: "Page", folder: Path, thickness: str = "50") -> Path:
    """A body of three blocks, of which the ends are carved: quick even on a busy machine."""
    hull = ball(folder, subdivisions=3)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    type_in(page, "#thickness", thickness)
    body_ready(page)
    return hull
