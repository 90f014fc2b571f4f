"""Coverage-guided fuzzing of the job file: only a StationerError may come out, and what is accepted is finite.

python tests/fuzz/fuzz_job.py -max_total_time=60
"""

import contextlib
import math
import sys
import tempfile
import warnings
from dataclasses import asdict
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

with atheris.instrument_imports(include=["profiles", "tomllib"]):
    from profiles.errors import StationerError
    from profiles.jobfile import job_from

ROOM = Path(tempfile.mkdtemp(prefix="fuzz-"))
MODELS = Path(__file__).parents[2] / "models"

MORE = """
[hull]
file = "a.stl"
scale = "1:12"
bodies = [1, 2]
[foam]
thickness = "1.5in"
breaks = [10, "1in"]
odd = "both"
[[boards]]
name = "blue"
count = 2
length = 1250
width = 600
thickness = 40
tolerance = [1, 2]
price = 12.5
[cutting]
kerf = 1
[wire]
gauge = 26
[template]
growth = "none"
gauges = [3]
[paper]
size = "610x2000"
bar_up = 99.5
"""


def one_input(data: bytes) -> None:
    """One job file, and the same text as words of the command line."""
    path = ROOM / "job.toml"
    path.write_bytes(data)
    with contextlib.suppress(StationerError):
        finite(asdict(job_from(path)))
    text = data.decode("utf-8", "replace")
    for key in (("foam", "thickness"), ("hull", "scale"), ("paper", "size"), ("hull", "unit"), ("template", "growth")):
        with contextlib.suppress(StationerError):
            finite(asdict(job_from(Path("hull.stl"), {key: text[:200]})))


def finite(value: object) -> None:
    """Refuse any number that a build could stumble over."""
    if isinstance(value, float):
        assert math.isfinite(value), value
    elif isinstance(value, dict):
        for inner in value.values():
            finite(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            finite(inner)


def main() -> None:
    """Fuzz until libFuzzer has had enough."""
    warnings.simplefilter("error")
    start = ROOM / "seeds"
    start.mkdir()
    for number, content in enumerate([MORE.encode(), *(path.read_bytes() for path in sorted(MODELS.glob("*.toml")))]):
        (start / str(number)).write_bytes(content)
    for number, word in enumerate(("1.5in", "1:12", "610x2000", "A4", "ANSI C", "1e5", "mm", "block", "24in x 36in")):
        (start / f"word{number}").write_text(word, encoding="utf-8")
    limits = ["-timeout=10", "-rss_limit_mb=2048", "-max_len=4096"]
    atheris.Setup([sys.argv[0], *limits, *sys.argv[1:], str(start)], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
