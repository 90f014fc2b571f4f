"""A desk that runs and a real browser that looks at it; skipped with the reason where there is no Chromium.

Playwright's loop is started and stopped for each module of tests, so that it never meets an event loop of another.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.desk.browsing import CHROMIUM, FLAGS, Desk, start_desk, stop_desk

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Playwright


@pytest.fixture(scope="module")
def playwright() -> "Iterator[Playwright]":
    """Playwright's driver."""
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no browser: {CHROMIUM} is missing (apt install chromium)")
    api = pytest.importorskip("playwright.sync_api", reason="no browser: the Python package playwright is missing")
    with api.sync_playwright() as started:
        yield started


@pytest.fixture(scope="module")
def browser(playwright: "Playwright") -> "Iterator[Browser]":
    """Chromium with WebGL in software."""
    launched = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
    yield launched
    launched.close()


@pytest.fixture(scope="module")
def desk(browser: "Browser") -> Iterator[Desk]:
    """A running desk, entered once with its token; other contexts of the browser take its cookie over."""
    started = start_desk()
    try:
        started.enter(browser)
        yield started
    finally:
        stop_desk(started)


@pytest.fixture
def page(browser: "Browser", desk: Desk) -> "Iterator[Page]":
    """A new tab at an empty desk. No test may leave an error of a script, or a request to any other place."""
    with desk.tab(browser) as opened:
        yield opened


@pytest.fixture
def own_desk(browser: "Browser") -> Iterator[Desk]:
    """A desk for one test alone, which may end it."""
    started = start_desk()
    try:
        started.enter(browser)
        yield started
    finally:
        stop_desk(started)
