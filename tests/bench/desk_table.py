"""From the slider to the picture: the desk in a real browser, at three sizes of hull.

    python tests/bench/desk_table.py [MOVES]

A move sets the slider and waits for its picture; the time is that of the page, from the event of the slider to the end
of drawing. "body" is the time from the last move to the exact body on the screen. Chromium draws in software.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from playwright.sync_api import sync_playwright

from tests.bench.hulls import bench_hull, write_stl
from tests.desk.browsing import CHROMIUM, FLAGS, body_ready, hull_ready, start_desk, stop_desk, type_in

if TYPE_CHECKING:
    from playwright.sync_api import Page

SIZES = ("4k", "100k", "1M")

MOVE = """async (mm) => {
    const measured = () => performance.getEntriesByName("slider to picture").length;
    const before = measured();
    const slider = document.getElementById("thickness-slider");
    slider.value = mm;
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    while (measured() === before) await new Promise(requestAnimationFrame);
    return performance.getEntriesByName("slider to picture").at(-1).duration;
}"""
"""One move, and how long its picture took, ms."""


def moves(page: "Page", count: int) -> list[float]:
    """`count` moves between 25 and 75 mm, ms each."""
    return [float(page.evaluate(MOVE, 25 + (k * 17) % 50 + 0.5 * (k % 2))) for k in range(count)]


def main() -> None:
    """Print a row for each size."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    print(f"{'triangles':>10} {'median ms':>10} {'95th ms':>10} {'body s':>8} {'page MB':>8}")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, "--enable-precise-memory-info"])
        desk = start_desk()
        try:
            desk.enter(browser)
            for size in SIZES:
                mesh = bench_hull(size)
                hull = Path(folder) / f"{size}.stl"
                write_stl(hull, mesh)
                with desk.tab(browser) as page:
                    page.set_input_files("#hull-file", hull)
                    hull_ready(page, hull.name)
                    type_in(page, "#thickness", "40")
                    body_ready(page)
                    times = sorted(moves(page, count))
                    begun = time.perf_counter()
                    body_ready(page)
                    body = time.perf_counter() - begun
                    heap = page.evaluate("performance.memory.usedJSHeapSize") / 1e6
                high = times[min(len(times) - 1, round(0.95 * (len(times) - 1)))]
                print(
                    f"{len(mesh[1]):>10,} {statistics.median(times):>10.0f} {high:>10.0f} {body:>8.1f} {heap:>8.0f}",
                    flush=True,
                )
        finally:
            stop_desk(desk)
            browser.close()


if __name__ == "__main__":
    main()
