"""Real meshes and the demo hulls, damaged at random and read as far as a hull: only a StationerError may come out.

    python tests/fuzz/mutate.py --seconds 60 --seed 1

A case is one file with a few of its bytes changed, cut out, doubled or moved, or its numbers replaced; each has
`LONGEST` seconds of processor time. A finding is written into the working folder, with what came out; the exit code
is then 1.
"""

import argparse
import random
import signal
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from profiles.errors import StationerError  # noqa: E402 - found by the line above
from profiles.hull.reading import read  # noqa: E402 - as above
from profiles.hull.settings import ReadSettings  # noqa: E402 - as above

LONGEST = 20
"""Seconds of processor time for one file."""

LARGEST = 3_000_000
"""Bytes; larger files make few cases and find nothing new."""

NUMBERS = (b"nan", b"inf", b"1e30", b"-1e308", b"1e-320", b"0", b"99999999999", b"1,5", b"")

SUFFIXES = {".stl", ".obj", ".ply", ".off", ".glb", ".gltf", ".3mf", ".dae"}


def sources() -> list[Path]:
    """Demo hulls and, where that folder is there, real ones."""
    folders = (ROOT / "models", ROOT.parent / "shared" / "meshes")
    found = [path for folder in folders if folder.is_dir() for path in sorted(folder.iterdir())]
    return [path for path in found if path.suffix.lower() in SUFFIXES and path.stat().st_size <= LARGEST]


def damaged(content: bytes, chance: random.Random) -> bytes:
    """The content with one to four kinds of damage."""
    data = bytearray(content)
    for _ in range(chance.randint(1, 4)):
        if not data:
            break
        at, length = chance.randrange(len(data)), chance.choice((1, 2, 4, 12, 50, 400))
        kind = chance.randrange(6)
        if kind == 0:
            data[at : at + length] = chance.randbytes(min(length, len(data) - at))
        elif kind == 1:
            del data[at : at + length]
        elif kind == 2:
            data[at:at] = data[at : at + length]
        elif kind == 3:
            data[at : at + length] = bytes(length)
        elif kind == 4:
            data[at : at + 1] = chance.choice(NUMBERS)
        else:
            del data[at:]
    return bytes(data)


def outcome(path: Path) -> str:
    """Read, refused, or what should not have come out."""

    def too_long(_signal: int, _frame: object) -> None:
        raise TimeoutError

    signal.signal(signal.SIGPROF, too_long)
    signal.setitimer(signal.ITIMER_PROF, LONGEST)
    try:
        read(path, ReadSettings(max_triangles=500_000, max_bytes=1 << 28))
    except StationerError:
        return "refused"
    except BaseException:  # noqa: BLE001 - that is what is looked for
        return traceback.format_exc()
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return "read"


def main() -> int:
    """Damage and read until the time is over."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--seconds", type=float, default=60)
    words.add_argument("--seed", type=int, default=1)
    given = words.parse_args()
    warnings.simplefilter("error")
    warnings.filterwarnings("ignore", message="Duplicate name", category=UserWarning, module="zipfile")
    chance, files = random.Random(given.seed), sources()  # noqa: S311 - not a secret
    contents = {path: path.read_bytes() for path in files}
    counts = {"read": 0, "refused": 0, "found": 0}
    until = time.monotonic() + given.seconds
    with tempfile.TemporaryDirectory() as folder:
        while time.monotonic() < until:
            source = chance.choice(files)
            path = Path(folder) / f"hull{source.suffix}"
            path.write_bytes(damaged(contents[source], chance))
            said = outcome(path)
            if said in counts:
                counts[said] += 1
                continue
            counts["found"] += 1
            kept = Path(f"found-{given.seed}-{counts['found']}{source.suffix}")
            kept.write_bytes(path.read_bytes())
            print(f"{kept} (of {source.name}):\n{said}")
    print(f"{sum(counts.values())} files out of {len(files)}: {counts}")
    return 1 if counts["found"] else 0


if __name__ == "__main__":
    sys.exit(main())
