"""Sheets of paper by job and paper, with the bound by the area of what is cut.

python tests/bench/sheets_table.py HULL_OR_JOB ...      hulls are 900 mm long, of foam 50 mm thick
"""

import sys
from dataclasses import replace
from pathlib import Path

from profiles.build import read_job, shape
from profiles.jobfile import load_job
from profiles.layout import lay_out
from profiles.paper.forms import material_of
from profiles.paper.sheets import frame_of
from profiles.units import paper_named

PAPERS = ("A4", "Letter", "A3", "610x2000")


def main() -> None:
    """A row for each job and paper: sheets, with every box drawn, the bound, templates without their box."""
    print("| job | paper | sheets | every box drawn | bound by area | without box |\n|---|---|---|---|---|---|")
    for source in map(Path, sys.argv[1:]):
        words = {} if source.suffix == ".toml" else {("hull", "length"): 900.0, ("foam", "thickness"): 50.0}
        job = load_job(source, words, {})
        body = shape(job, read_job(job))
        for name in PAPERS:
            paper = replace(job.paper, paper=paper_named(name))
            layout = lay_out(body, paper)
            boxed = lay_out(body, replace(paper, draw_box=True))
            width, height = frame_of(paper).room[2:]
            area = sum(material_of(template.drawing).area for template in layout.templates)
            bare = {piece.template_id for page in layout.pages for piece in page.pieces if not piece.boxed}
            figures = (len(layout.pages), len(boxed.pages), f"{area / width / height:.1f}", len(bare))
            print(f"| {source.stem} | {name} | {' | '.join(map(str, figures))} |", flush=True)


if __name__ == "__main__":
    main()
