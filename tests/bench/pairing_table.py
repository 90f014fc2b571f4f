"""Ours against the plain ways to pair two outlines: `python tests/bench/pairing_table.py [--foam 40]`.

Every block of the demo hulls, and of the meshes in ../shared where that folder is there, is paired three times: by this
program, by equal arc length from the keel, and by equal angle about each outline's own centroid. Blocks with an empty
face, or whose outlines do not match in number, are left out: no pairing cuts them. Largest is the largest deviation of
the block from the hull either way, rms is over its skin; both in mm, without growth.
"""

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve()
sys.path.insert(0, str(HERE.parents[2]))

from profiles.blocks.correspondence import angle_path, pair_along  # noqa: E402
from profiles.blocks.deviation import deviation_of  # noqa: E402
from profiles.blocks.hull_sections import Inside, hull_cut, hull_inside  # noqa: E402
from profiles.blocks.landmarks import Ring, ring_of  # noqa: E402
from profiles.blocks.pairing import pair_faces  # noqa: E402
from profiles.blocks.ring_pairs import RingPair  # noqa: E402
from profiles.blocks.ruled import RuledBlock  # noqa: E402
from profiles.blocks.splits import split_x  # noqa: E402
from profiles.blocks.stations import plan_stations  # noqa: E402
from profiles.errors import StationerError  # noqa: E402
from profiles.hull.frame import Hull  # noqa: E402
from profiles.hull.reading import read  # noqa: E402
from profiles.hull.sections import Side, section  # noqa: E402
from profiles.hull.settings import ReadSettings  # noqa: E402

MODELS = HERE.parents[2] / "models"
SHARED = HERE.parents[3] / "shared" / "meshes"

HULLS = (
    (MODELS / "skerrywing.stl", None, ReadSettings()),
    (MODELS / "wickerby.obj", "in", ReadSettings(solid=True)),
    (MODELS / "pelloway.glb", None, ReadSettings()),
    (MODELS / "tandril.3mf", None, ReadSettings()),
    (SHARED / "rc_yacht_core.stl", "m", ReadSettings()),
    (SHARED / "sail_drone_hull.stl", "m", ReadSettings(solid=True, length=1000.0)),
    (SHARED / "small_boat1.stl", "m", ReadSettings(length=600.0)),
    (SHARED / "small_boat1.dae", None, ReadSettings(length=600.0)),
    (SHARED / "auv_torpedo_body.stl", "m", ReadSettings(length=800.0)),
    (SHARED / "fish_body.obj", "mm", ReadSettings(length=400.0)),
)

WAYS = ("ours", "arc", "angle")

NO_WORSE = 0.005
"""mm; a difference below this between two ways is not printed."""


@dataclass(frozen=True, slots=True)
class Row:
    """One block: largest and rms deviation in mm of each way."""

    number: int
    x: float
    largest: dict[str, float]
    rms: dict[str, float]


def paired(inside: Inside) -> dict[str, tuple[RingPair, ...]] | None:
    """The ring pairs of each way; None for a block that no pairing cuts."""
    fore, aft = inside.sections[0].region, inside.sections[-1].region
    ours = pair_faces(fore, aft, between=inside.between)
    if ours.unpaired:
        return None
    lines = [_same_rings(pair) for pair in ours.rings]
    return {
        "ours": ours.rings,
        "arc": tuple(_like(pair, pair_along(*rings)) for pair, rings in zip(ours.rings, lines, strict=True)),
        "angle": tuple(
            _like(pair, pair_along(*rings, angle_path(*rings))) for pair, rings in zip(ours.rings, lines, strict=True)
        ),
    }


def _same_rings(pair: RingPair) -> tuple[Ring, Ring]:
    import shapely

    lines = [shapely.LinearRing(points) for points in (pair.fore, pair.aft)]
    across = all(line.bounds[0] < 0 < line.bounds[2] for line in lines)
    fore, aft = (ring_of(line, hollow=pair.hollow, centre=0.0 if across else None) for line in lines)
    return fore, aft


def _like(pair: RingPair, other: RingPair) -> RingPair:
    return replace(other, part=pair.part)


def rows(hull: Hull, foam: float) -> Iterator[Row]:
    """The blocks of a hull, divided where outlines split."""
    surface = hull.surface
    cut = hull_cut(hull.shape)
    plan = plan_stations(length=hull.length, foam=foam, breaks=hull.steps)
    breaks = [x for span in plan.spans for x in split_x(hull.shape, span.x_fore, span.x_aft)]
    plan = plan_stations(length=hull.length, foam=foam, breaks=(*hull.steps, *breaks))
    for span in plan.spans:
        try:
            fore = section(surface, span.x_fore, Side.AFT).region
            aft = section(surface, span.x_aft, Side.FORE).region
        except StationerError:
            continue
        if fore.is_empty or aft.is_empty:
            continue
        inside = hull_inside(cut, span.x_fore, span.x_aft, fore, aft, 9)
        ways = paired(inside)
        if ways is None:
            continue
        found = {
            way: deviation_of(RuledBlock(span.x_fore, span.x_aft, pairs), inside)[0] for way, pairs in ways.items()
        }
        yield Row(
            span.number,
            span.x_fore,
            {way: max(one.missing, one.extra) for way, one in found.items()},
            {way: one.rms for way, one in found.items()},
        )


def main() -> int:
    """Print the table and the blocks where a plain way comes nearer than ours."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--foam", type=float, default=40.0)
    given = words.parse_args()
    print(f"{'':24}{'blocks':>7}   largest: ours      arc    angle       rms: ours      arc    angle   not least   s")
    lines = []
    for file, unit, options in HULLS:
        if not file.exists():
            continue
        start = time.perf_counter()
        try:
            found = list(rows(read(file, replace(options, unit=unit)), given.foam))
        except StationerError as fault:
            print(f"{file.name:24}  left out: {fault.message[:90]}")
            continue
        if not found:
            print(f"{file.name:24}  no block with two faces")
            continue
        largest = {way: max(row.largest[way] for row in found) for way in WAYS}
        rms = {way: float(np.sqrt(np.mean([row.rms[way] ** 2 for row in found]))) for way in WAYS}
        worse = 0
        for row in found:
            for measure in ("largest", "rms"):
                own = getattr(row, measure)
                if own["ours"] > 1.01 * min(own.values()) and own["ours"] > min(own.values()) + NO_WORSE:
                    worse += 1
                    lines.append(f"  {file.name} block {row.number} x {row.x:.1f} {measure}: {own}")
        figures = (
            "".join(f"{largest[way]:9.3f}" for way in WAYS) + " " * 7 + "".join(f"{rms[way]:9.4f}" for way in WAYS)
        )
        print(f"{file.name:24}{len(found):7}       {figures}{worse:9}{time.perf_counter() - start:8.1f}")
    print("\n".join(["where ours is not the least:", *lines]) if lines else "ours is the least everywhere")
    return 0


if __name__ == "__main__":
    sys.exit(main())
