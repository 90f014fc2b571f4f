"""The two pictures of the README, made from the demo flying boat: a page of templates, and the body by blocks."""

import tempfile
from pathlib import Path

from profiles.build import build
from profiles.jobfile import load_job
from profiles.paper.pdf import drawing_png

HERE = Path(__file__).parent

SHOWN = "07 aft"
"""The template on the page that is shown: a full section with the hard chine."""


def main() -> None:
    """Write both pictures beside this script."""
    with tempfile.TemporaryDirectory() as folder:
        job = load_job(HERE / "skerrywing.toml", {("output", "folder"): folder})
        layout = build(job).layout
    (HERE / "skerrywing.png").write_bytes(drawing_png(layout.pictures["body"]((182.0, 240.0)), 120))
    page = next(page for page in layout.pages if any(piece.template_id == SHOWN for piece in page.pieces))
    (HERE / "template-page.png").write_bytes(drawing_png(page.drawing, 80))


if __name__ == "__main__":
    main()
