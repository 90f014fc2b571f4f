"""The plain script that anyone would write, to measure against: sections of a hull, each printed on its own page.

    python plain_script.py hull.stl --foam 40 --out DIR

Loads with trimesh, cuts with section_multiplane, draws each section with svgwrite and prints it with cairosvg at 1:1.
No mending, no faces, no marks, no bars, no check: only the least that gives paper.
"""

import argparse
from collections.abc import Sequence
from pathlib import Path

import cairosvg
import numpy as np
import numpy.typing as npt
import svgwrite
import trimesh

PAGES = ((210, 297), (297, 420), (420, 594), (594, 841), (841, 1189))
"""A4 to A0, mm (ISO 216)."""

MARGIN = 8.0
"""mm."""

Floats = npt.NDArray[np.float64]


def sections(file: Path, foam: float) -> list[tuple[float, list[Floats]]]:
    """Stations every `foam` mm along x, the odd block at the nose: (x, closed curves (n, 2) mm)."""
    mesh = trimesh.load_mesh(file)
    low, high = mesh.bounds[:, 0]
    heights = np.sort(np.append(np.arange(high - foam, low, -foam), low)) - low
    paths = mesh.section_multiplane(plane_origin=[low, 0.0, 0.0], plane_normal=[1.0, 0.0, 0.0], heights=heights)
    return [
        (x, [np.asarray(curve) for curve in path.discrete])
        for x, path in zip(heights.tolist(), paths, strict=True)
        if path is not None and len(path.discrete) > 0
    ]


def page_svg(x: float, curves: Sequence[Floats]) -> str:
    """One section on the smallest page that holds it, coordinates in mm."""
    points = np.concatenate(curves)
    low, size = points.min(axis=0), np.ptp(points, axis=0)
    width, height = next(page for page in PAGES if size[0] + 2 * MARGIN < page[0] and size[1] + 2 * MARGIN < page[1])
    drawing = svgwrite.Drawing(size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}")
    for curve in curves:
        drawing.add(drawing.polygon((curve - low + MARGIN).tolist(), fill="none", stroke="black", stroke_width=0.3))
    drawing.add(drawing.text(f"x = {x:.1f}", insert=(MARGIN, height - MARGIN), font_size=5))
    return str(drawing.tostring())


def main() -> None:
    """Cut the hull and print every section."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("hull", type=Path)
    words.add_argument("--foam", type=float, required=True)
    words.add_argument("--out", type=Path, required=True)
    given = words.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    for number, (x, curves) in enumerate(sections(given.hull, given.foam), start=1):
        svg = page_svg(x, curves)
        (given.out / f"section-{number:02d}.svg").write_text(svg, encoding="utf-8")
        cairosvg.svg2pdf(bytestring=svg.encode(), write_to=str(given.out / f"section-{number:02d}.pdf"))


if __name__ == "__main__":
    main()
