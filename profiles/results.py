"""Build -> the files of the output folder, measured before they are handed over.

The pages are read back from the finished PDF with another library; a difference over the limit refuses the result.
"""

from dataclasses import dataclass

from profiles.build import Build, Progress
from profiles.paper.proof import Check, measure, refuse_if_off
from profiles.paper.svg import drawing_svg
from profiles.rendering import Renderer, render_here
from profiles.report import Figures, as_json, blocks_csv, page_file, report_figures


@dataclass(frozen=True, slots=True)
class Results:
    """The content of an output folder."""

    files: dict[str, bytes]
    """Relative name -> content."""
    checks: tuple[Check, ...]
    figures: Figures


def results_of(build: Build, progress: Progress = lambda _stage: None, render: Renderer = render_here) -> Results:
    """All files of a build; `render` makes the PDF, here or elsewhere.

    Raises CheckError when the finished pages do not measure what they should.
    """
    progress("rendering pages")
    name = build.plan.hull.name
    finished_pdf = render(build.pages, f"{name}, templates {build.fingerprint}")
    single = {template.id: f"templates/{template.file_stem}.svg" for template in build.templates}
    files = {}
    for page in build.pages:
        title = f"{name}, page {page.number} of {page.of}"
        files[page_file(page)] = drawing_svg(page.drawing, title=title).encode()
    for template in build.templates:
        files[single[template.id]] = drawing_svg(template.drawing, title=f"{name}, {template.id}").encode()
    pdf = finished_pdf()
    progress("measuring the finished pages")
    checks = measure(pdf, build.pages, build.templates)
    refuse_if_off(checks)
    figures = report_figures(build, checks, single)
    files["templates.pdf"] = pdf
    files["blocks.csv"] = blocks_csv(build).encode()
    files["report.json"] = as_json(figures).encode()
    return Results(files, checks, figures)
