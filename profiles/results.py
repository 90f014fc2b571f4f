"""Build -> the files of the output folder, measured before they are returned.

The pages are read back from the finished PDF with another library; a difference over the limit refuses the result.
"""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace

from profiles.blocks.bodyfile import built_files
from profiles.book.book import book_pages, book_pdf
from profiles.book.contents import BookContents
from profiles.book.pages import BookSettings
from profiles.bookfacts import book_contents, book_settings, curves_of
from profiles.build import Build, Progress
from profiles.drafting.drafts import DraftSet
from profiles.job import Job
from profiles.layout import Layout
from profiles.paper.drawing import Drawing
from profiles.paper.pages import Page
from profiles.paper.proof import Check, load_reader, measure, refuse_if_off
from profiles.paper.sheets import Picture
from profiles.paper.template import BlockTemplate
from profiles.report import as_json, blocks_csv, page_file, report_figures, template_file
from profiles.sharing import start
from profiles.units import Figures, print_lengths_in
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Results:
    """The content of an output folder."""

    files: dict[str, bytes]
    """Relative name -> content."""
    checks: tuple[Check, ...]
    figures: Figures


PICTURE_ROOM = (182.0, 240.0)
"""Width and height in mm for the file with the picture of the body."""

CURVE_ROOM = (182.0, 80.0)
"""The same for a file with a curve."""

PICTURE_DPI = 150.0


def render_build(build: Build, progress: Progress = lambda _stage: None, executor: Executor | None = None) -> Results:
    """All files of a build; `executor` does some of the work.

    Raises CheckError if the finished pages do not measure what they should.
    """
    with print_lengths_in(build.job.output.units):
        return _render_build(build, progress, executor)


def _render_build(build: Build, progress: Progress, executor: Executor | None) -> Results:
    progress("rendering pages")
    name, layout = build.body.hull.name, build.layout
    pending = {
        "templates.pdf": start(executor, _pdf, layout.pages, f"{name}, templates {layout.fingerprint}"),
        "job-book.pdf": start(
            executor, _book, book_contents(build), book_settings(build), f"{name}, job book {layout.fingerprint}"
        ),
    }
    if "body" in layout.pictures:
        pending["body.png"] = start(executor, _picture_png, layout.pictures["body"])
    drafts = {
        group.stem: start(executor, draft_files, group, f"{name}, {group.stem} {layout.fingerprint}")
        for group in (build.drafts.sets if build.drafts else ())
    }
    cards = start(executor, _card_files, layout.templates, layout.cards, name)
    built = start(executor, built_files, build.body.blocks, build.body.places)
    files = _svgs(name, layout)
    load_reader()
    files |= built.here()
    files["templates.pdf"] = pending.pop("templates.pdf").result()
    progress("measuring the finished pages")
    checks = measure(files["templates.pdf"], layout.pages, layout.drawn)
    refuse_if_off(checks)
    if build.job.paper.blocks:
        sheets = {file: content for file, content in (files | cards.here()).items() if file.startswith(SHEETS)}
        return Results(sheets, checks, report_figures(build, checks))
    files |= {file: content.result() for file, content in pending.items()}
    files |= cards.here()
    for drawn in drafts.values():
        more, measured = drawn.here()
        files |= more
        checks = (*checks, *measured)
    figures = report_figures(build, checks)
    files["blocks.csv"] = blocks_csv(build).encode()
    files |= _curve_files(build)
    files["report.json"] = as_json(figures).encode()
    return Results(files, checks, figures)


SHEETS = ("templates", "pages")
"""What the files of the sheets begin with: the PDF and two folders."""


def _curve_files(build: Build) -> dict[str, bytes]:
    """Curves of a body afloat as SVG and CSV; none where the job does not ask for them."""
    if build.figures is None or build.figures.flotation is None:
        return {}
    from profiles.body.figures import levels_csv, righting_csv
    from profiles.paper.svg import drawing_svg

    name, flotation = build.body.hull.name, build.figures.flotation
    arms, displacement = (curve(CURVE_ROOM) for curve in curves_of(build))
    return {
        "righting.svg": drawing_svg(arms, title=f"{name}, righting arms").encode(),
        "displacement.svg": drawing_svg(displacement, title=f"{name}, displacement").encode(),
        "righting.csv": righting_csv(flotation).encode(),
        "hydrostatics.csv": levels_csv(flotation).encode(),
    }


def draft_files(group: DraftSet, title: str) -> tuple[dict[str, bytes], tuple[Check, ...]]:
    """Drafts as PDF, SVG and DXF by file name, and every measurement of the PDF. Raises CheckError."""
    from profiles.paper.dxf import drawing_dxf  # loads ezdxf
    from profiles.paper.svg import drawing_svg  # slow to import

    pdf, drawing = _pdf(group.pages, title), group.drawing
    checks = measure(pdf, group.pages, group.templates)
    refuse_if_off(checks)
    files = {
        f"{group.stem}.pdf": pdf,
        f"{group.stem}.svg": drawing_svg(drawing, title=title).encode(),
        f"{group.stem}.dxf": drawing_dxf(drawing),
    }
    return files, tuple(replace(check, name=f"{group.stem}, {check.name}") for check in checks)


def render(layout: Layout) -> dict[str, bytes]:
    """The pages as one PDF and all drawings as SVG, by file name, measured. Raises CheckError.

    >>> from profiles import StationSettings, cut, lay_out, plan, read, render
    >>> hull = read("models/skerrywing.stl")
    >>> files = render(lay_out(cut(hull, plan(hull, StationSettings(thickness=58)))))
    >>> files["templates.pdf"][:5], files["templates/01-aft.svg"][:5]
    (b'%PDF-', b'<?xml')
    """
    name = layout.heading.hull
    pdf = _pdf(layout.pages, f"{name}, templates {layout.fingerprint}")
    refuse_if_off(measure(pdf, layout.pages, layout.drawn))
    return {"templates.pdf": pdf, **_svgs(name, layout), **_card_files(layout.templates, layout.cards, name)}


def kerf_test_pdf(job: Job) -> bytes:
    """The page with the square templates of the kerf test, measured like any other. Raises CheckError."""
    from profiles.paper.kerfpage import kerf_pages, kerf_templates  # no other command needs it

    pages = kerf_pages(job.paper)
    pdf = _pdf(pages, "kerf test")
    refuse_if_off(measure(pdf, pages, kerf_templates()))
    return pdf


def load_libraries() -> None:
    """Load the libraries for drawing and rendering, in a process that has nothing else to do yet."""
    from profiles.paper import facetemplates  # noqa: F401 - slow to import
    from profiles.paper.pdf import load_libraries as load_pdf  # loads the cairo library

    load_pdf()


def _pdf(pages: Sequence[Page], title: str) -> bytes:
    from profiles.paper.pdf import pages_pdf  # loads the cairo library

    return pages_pdf(pages, title=title)


def _book(contents: BookContents, settings: BookSettings, title: str) -> bytes:
    return book_pdf(book_pages(contents, settings), title)


def _picture_png(picture: Picture) -> bytes:
    from profiles.paper.pdf import drawing_png  # loads the cairo library

    return drawing_png(picture(PICTURE_ROOM), PICTURE_DPI)


def _card_files(templates: Sequence[BlockTemplate], cards: Drawing, name: str) -> dict[str, bytes]:
    """All pieces nested on card as DXF and SVG, and each template alone as DXF, by file name."""
    from profiles.paper.cardsheets import cut_drawing
    from profiles.paper.dxf import drawing_dxf  # loads ezdxf
    from profiles.paper.svg import drawing_svg  # slow to import

    files = {"cards.dxf": drawing_dxf(cards), "cards.svg": drawing_svg(cards, title=f"{name}, cards").encode()}
    return files | {template_file(template, ".dxf"): drawing_dxf(cut_drawing(template)) for template in templates}


def _svgs(name: str, layout: Layout) -> dict[str, bytes]:
    """Every page, every template and the picture of the body, by file name."""
    from profiles.paper.svg import drawing_svg  # slow to import

    drawings = {page_file(page): (f"{name}, page {page.number} of {page.of}", page.drawing) for page in layout.pages}
    drawings |= {template_file(template): (f"{name}, {template.id}", template.drawing) for template in layout.templates}
    if "body" in layout.pictures:
        drawings["body.svg"] = (f"{name}, blocks by deviation", layout.pictures["body"](PICTURE_ROOM))
    return {file: drawing_svg(drawing, title=title).encode() for file, (title, drawing) in drawings.items()}
