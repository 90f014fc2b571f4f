"""Build -> the files of the output folder, measured before they are handed over.

The pages are read back from the finished PDF with another library; a difference over the limit refuses the result.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from profiles.beside import Submit, here
from profiles.build import Build, Progress
from profiles.paper.drawing import Drawing
from profiles.paper.pages import Page
from profiles.paper.proof import Check, load_reader, measure, refuse_if_off
from profiles.report import Figures, as_json, blocks_csv, page_file, report_figures


@dataclass(frozen=True, slots=True)
class Results:
    """The content of an output folder."""

    files: dict[str, bytes]
    """Relative name -> content."""
    checks: tuple[Check, ...]
    figures: Figures


def results_of(build: Build, progress: Progress = lambda _stage: None, submit: Submit = here) -> Results:
    """All files of a build; `submit` may have the rendering done in another process.

    Raises CheckError when the finished pages do not measure what they should.
    """
    progress("rendering pages")
    name = build.plan.hull.name
    finished_pdf = submit(_pdf, build.pages, f"{name}, templates {build.fingerprint}")
    single = {template.id: f"templates/{template.file_stem}.svg" for template in build.templates}
    drawings = {page_file(page): (f"{name}, page {page.number} of {page.of}", page.drawing) for page in build.pages} | {
        single[template.id]: (f"{name}, {template.id}", template.drawing) for template in build.templates
    }
    finished_texts = submit(_svgs, tuple(drawings.values()))
    load_reader()
    pdf = finished_pdf()
    progress("measuring the finished pages")
    checks = measure(pdf, build.pages, build.templates)
    refuse_if_off(checks)
    figures = report_figures(build, checks, single)
    files = {"templates.pdf": pdf} | dict(zip(drawings, finished_texts(), strict=True))
    files["blocks.csv"] = blocks_csv(build).encode()
    files["report.json"] = as_json(figures).encode()
    return Results(files, checks, figures)


def load_libraries() -> None:
    """Load what drawing and rendering need, in a process that has nothing else to do yet."""
    from profiles.paper import templates  # noqa: F401, PLC0415 - slow to import
    from profiles.paper.pdf import load_libraries as load_pdf  # noqa: PLC0415 - loads the cairo library

    load_pdf()


def _pdf(pages: Sequence[Page], title: str) -> bytes:
    from profiles.paper.pdf import pages_pdf  # noqa: PLC0415 - loads the cairo library

    return pages_pdf(pages, title=title)


def _svgs(drawings: Sequence[tuple[str, Drawing]]) -> list[bytes]:
    from profiles.paper.svg import drawing_svg  # noqa: PLC0415 - slow to import

    return [drawing_svg(drawing, title=title).encode() for title, drawing in drawings]
