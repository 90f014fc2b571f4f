"""Two builds in one process, the second with another foam and the hull kept: `python rebuild.py HULL` prints JSON.

The first build reads the hull and makes all files of the output folder as bytes; the second makes them all again from
the hull that the first has read. Libraries are loaded before the clock starts, and both go without a second process, so
that the ratio is one of work.
"""

import json
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

FOAMS = ("40", "50")
"""mm, before and after."""


def main() -> None:
    """Time both builds and print what they took, and the parts of the first."""
    from profiles.build import build, read_job, shape
    from profiles.job import Job
    from profiles.jobfile import load_job
    from profiles.options import NAMES, PLACES
    from profiles.paper.proof import load_reader
    from profiles.results import load_libraries, render_build

    load_libraries()
    load_reader()
    source = Path(sys.argv[1])

    def job(foam: str) -> Job:
        return load_job(source, {PLACES["foam_thickness"]: foam}, NAMES)

    times = [time.perf_counter()]
    hull = read_job(job(FOAMS[0]))
    times.append(time.perf_counter())
    for foam in FOAMS:
        made = build(job(foam), shape(job(foam), hull))
        times.append(time.perf_counter())
        render_build(made)
        times.append(time.perf_counter())
    start, was_read, planned, first, replanned, again = times
    print(
        json.dumps(
            {
                "read": was_read - start,
                "build": planned - was_read,
                "files": first - planned,
                "again": replanned - first,
                "files_again": again - replanned,
            }
        )
    )


if __name__ == "__main__":
    main()
