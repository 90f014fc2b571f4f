"""The two pictures of the README, made from the demo flying boat: a page of templates, and the body itself."""

import tempfile
from pathlib import Path

from profiles.build import build
from profiles.job import job_from
from profiles.paper.pdf import drawing_png
from profiles.paper.views import hull_views

HERE = Path(__file__).parent

PAGE = 8
"""The page shown: two full sections with the hard chine."""


def main() -> None:
    """Write both pictures beside this script."""
    with tempfile.TemporaryDirectory() as folder:
        job = job_from(HERE / "skerrywing.toml", {("output", "folder"): folder})
        made = build(job)
    hull = made.plan.hull
    views = hull_views(hull.name, hull.surface, hull.length, made.plan.stations.stations, hull.steps)
    (HERE / "skerrywing.png").write_bytes(drawing_png(views, 110))
    (HERE / "template-page.png").write_bytes(drawing_png(made.pages[PAGE - 1].drawing, 80))


if __name__ == "__main__":
    main()
