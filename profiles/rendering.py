"""A second process that renders the pages: it loads the cairo and PDF libraries while the hull is still being cut.

On a machine with one core, or where no process can be started, the pages are rendered here instead; the bytes are the
same either way.
"""

import contextlib
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from profiles.paper.pages import Page

Renderer = Callable[[Sequence["Page"], str], Callable[[], bytes]]
"""Pages and title -> a function that waits for the finished PDF."""


def render_here(pages: "Sequence[Page]", title: str) -> Callable[[], bytes]:
    """The PDF rendered in this process, when it is asked for."""
    from profiles.paper.pdf import pages_pdf  # noqa: PLC0415 - loads the cairo library

    return lambda: pages_pdf(pages, title=title)


@contextlib.contextmanager
def renderer() -> Iterator[Renderer]:
    """A renderer in a process of its own for as long as the context lasts."""
    if (os.cpu_count() or 1) < 2:  # noqa: PLR2004 - with one core there is nothing to gain
        yield render_here
        return
    pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_ready)
    try:
        pool.submit(_loaded)

        def render(pages: "Sequence[Page]", title: str) -> Callable[[], bytes]:
            try:
                future: Future[bytes] = pool.submit(_pdf, tuple(pages), title)
            except BrokenProcessPool:
                return render_here(pages, title)
            return lambda: _awaited(future, pages, title)

        yield render
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _awaited(future: "Future[bytes]", pages: "Sequence[Page]", title: str) -> bytes:
    try:
        return future.result()
    except BrokenProcessPool:
        return render_here(pages, title)()


def _ready() -> None:
    """An interrupt is the first process's to answer."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _loaded() -> None:
    from profiles.paper.pdf import load_libraries  # noqa: PLC0415 - loads the cairo library

    load_libraries()


def _pdf(pages: "tuple[Page, ...]", title: str) -> bytes:
    from profiles.paper.pdf import pages_pdf  # noqa: PLC0415 - loads the cairo library

    return pages_pdf(pages, title=title)
