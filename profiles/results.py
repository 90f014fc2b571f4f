"""Build -> the files of the output folder, measured before they are handed over.

The pages are read back from the finished PDF with another library; a difference over the limit refuses the result.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from profiles.beside import Submit, here
from profiles.book.book import book_pages, book_pdf
from profiles.book.contents import BookContents
from profiles.book.pages import BookSettings
from profiles.bookfacts import book_of, book_settings
from profiles.build import PICTURE_ROOM, Build, Progress, page_settings
from profiles.paper.drawing import Drawing
from profiles.paper.pages import Page
from profiles.paper.proof import Check, load_reader, measure, refuse_if_off
from profiles.report import Figures, as_json, blocks_csv, page_file, report_figures

if TYPE_CHECKING:
    from profiles.job import Job


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
    finished_book = submit(_book, book_of(build), book_settings(build), f"{name}, job book {build.fingerprint}")
    body = build.pictures["body"](PICTURE_ROOM) if "body" in build.pictures else None
    single = {template.id: f"templates/{template.file_stem}.svg" for template in build.templates}
    texts = _svgs(build, single, body)
    load_reader()
    pdf = finished_pdf()
    progress("measuring the finished pages")
    checks = measure(pdf, build.pages, build.templates)
    refuse_if_off(checks)
    figures = report_figures(build, checks, single)
    files = {"templates.pdf": pdf} | texts
    files["job-book.pdf"] = finished_book()
    files |= {name: finished() for name, finished in build.files.items()}
    files["blocks.csv"] = blocks_csv(build).encode()
    files["report.json"] = as_json(figures).encode()
    return Results(files, checks, figures)


def kerf_test_pdf(job: "Job") -> bytes:
    """The page with the square templates of the kerf test, measured like any other. Raises CheckError."""
    from profiles.paper.kerfpage import kerf_pages, kerf_templates  # noqa: PLC0415 - no other command needs it

    pages = kerf_pages(page_settings(job))
    pdf = _pdf(pages, "kerf test")
    refuse_if_off(measure(pdf, pages, kerf_templates()))
    return pdf


def load_libraries() -> None:
    """Load what drawing and rendering need, in a process that has nothing else to do yet."""
    from profiles.paper import templates  # noqa: F401, PLC0415 - slow to import
    from profiles.paper.pdf import load_libraries as load_pdf  # noqa: PLC0415 - loads the cairo library

    load_pdf()


def _pdf(pages: Sequence[Page], title: str) -> bytes:
    from profiles.paper.pdf import pages_pdf  # noqa: PLC0415 - loads the cairo library

    return pages_pdf(pages, title=title)


def _book(contents: BookContents, settings: BookSettings, title: str) -> bytes:
    return book_pdf(book_pages(contents, settings), title)


def _svgs(build: Build, single: dict[str, str], body: Drawing | None) -> dict[str, bytes]:
    """Every page, every template and the picture of the body, by file name."""
    from profiles.paper.svg import drawing_svg  # noqa: PLC0415 - slow to import

    name = build.plan.hull.name
    drawings = {page_file(page): (f"{name}, page {page.number} of {page.of}", page.drawing) for page in build.pages}
    drawings |= {single[one.id]: (f"{name}, {one.id}", one.drawing) for one in build.templates}
    if body:
        drawings["body.svg"] = (f"{name}, blocks by deviation", body)
    return {file: drawing_svg(drawing, title=title).encode() for file, (title, drawing) in drawings.items()}
