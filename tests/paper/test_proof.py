import io
from collections.abc import Callable
from dataclasses import replace

import pikepdf
import pytest

from profiles.errors import CheckError
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing, Role
from profiles.paper.pages import Page, lay_out
from profiles.paper.pdf import pages_pdf
from profiles.paper.proof import Check, measure, refuse_if_off
from profiles.paper.settings import PageSettings
from profiles.paper.template import Template
from profiles.units import paper_named

Tamper = Callable[[pikepdf.Pdf], None]


@pytest.fixture(name="pages")
def fixture_pages(mixed: tuple[Template, ...], heading: Heading) -> tuple[Page, ...]:
    """A cover, shared pages and tiles on A4."""
    return lay_out(mixed, PageSettings(paper_named("A4")), heading)


def _off(pdf: bytes, pages: tuple[Page, ...], templates: tuple[Template, ...]) -> list[str]:
    checks = measure(pdf, pages, templates)
    wrong = [check.name for check in checks if not check.holds]
    if wrong:
        with pytest.raises(CheckError):
            refuse_if_off(checks)
    else:
        refuse_if_off(checks)
    return wrong


def _tampered(pdf: bytes, tamper: Tamper) -> bytes:
    with pikepdf.open(io.BytesIO(pdf)) as document:
        tamper(document)
        out = io.BytesIO()
        document.save(out)
        return out.getvalue()


@pytest.mark.parametrize("paper", ["A5", "A4", "Letter", "610x2000"])
@pytest.mark.parametrize("correction", [(1.0, 1.0), (1.0071, 0.9953)])
def test_honest_pages_pass(
    mixed: tuple[Template, ...], heading: Heading, paper: str, correction: tuple[float, float]
) -> None:
    """Every figure of an untouched file is within 0.01 mm, most of them far within."""
    settings = PageSettings(paper_named(paper), bar_across=100 / correction[0], bar_up=100 / correction[1])
    pages = lay_out(mixed, settings, heading)
    checks = measure(pages_pdf(pages), pages, mixed)
    refuse_if_off(checks)
    assert max(check.off for check in checks) < 0.003
    names = {check.name for check in checks}
    assert {"page 1 bar across", "page 1 bar up, inches", "05 fore width", "05 fore height", "page 1 width"} <= names


def test_corrected_bars_are_as_much_longer(mixed: tuple[Template, ...], heading: Heading) -> None:
    """With 100 / 99.4 across, the nominal bar is 100 / 99.4 times as long in the file."""
    pages = lay_out(mixed, PageSettings(paper_named("A4"), bar_across=99.4), heading)
    figures = {check.name: check.measured for check in measure(pages_pdf(pages), pages, mixed)}
    assert figures["page 2 bar across"] == pytest.approx(100 * 100 / 99.4, abs=0.0015)
    assert figures["page 2 bar up"] == pytest.approx(150, abs=0.0015)


def _scaled(document: pikepdf.Pdf) -> None:
    document.pages[1].contents_add(b"1.001 0 0 1.001 0 0 cm", prepend=True)


def _wrong_box(document: pikepdf.Pdf) -> None:
    document.pages[1].CropBox = [0, 0, 595.4, 841.8898]


def _turned(document: pikepdf.Pdf) -> None:
    document.pages[1].Rotate = 90


def _rescaled_by_printer(document: pikepdf.Pdf) -> None:
    del document.Root.ViewerPreferences


def _page_lost(document: pikepdf.Pdf) -> None:
    del document.pages[-1]


def _bars_lost(document: pikepdf.Pdf) -> None:
    del document.pages[1].Resources.XObject


def _shifted(document: pikepdf.Pdf) -> None:
    document.pages[1].contents_add(b"1 0 0 1 0.05 0 cm", prepend=True)


@pytest.mark.parametrize(
    ("tamper", "complaint"),
    [
        (_scaled, "page 2 bar across"),
        (_scaled, "01 fore width"),
        (_wrong_box, "page 2 width"),
        (_turned, "page 2 rotation"),
        (_rescaled_by_printer, "print scaling left to the printer"),
        (_page_lost, "number of pages"),
        (_bars_lost, "page 2 rulers across"),
        (_shifted, "01 fore left edge"),
    ],
)
def test_a_tampered_file_is_refused(
    pages: tuple[Page, ...], mixed: tuple[Template, ...], tamper: Tamper, complaint: str
) -> None:
    """A page scaled by 1.001, shifted, cropped, turned or lost is found out, and the figure that is off is named."""
    assert complaint in _off(_tampered(pages_pdf(pages), tamper), pages, mixed)


def _without(page: Page, role: Role) -> Page:
    kept = tuple(stroke for stroke in page.content.strokes if stroke.role is not role)
    return replace(page, content=replace(page.content, strokes=kept))


def test_a_lost_cut_line_is_found(pages: tuple[Page, ...], mixed: tuple[Template, ...]) -> None:
    """A page drawn without its outlines does not pass."""
    drawn = (pages[0], _without(pages[1], Role.CUT), *pages[2:])
    assert "01 fore cut lines" in _off(pages_pdf(drawn), pages, mixed)


def test_a_cut_line_of_nobody_is_found(pages: tuple[Page, ...], mixed: tuple[Template, ...]) -> None:
    """An outline where no template is would be cut all the same."""
    stray = pages[1].content.with_more([s.translate(2.0, 0.0) for s in pages[1].content.of_role(Role.CUT)])
    drawn = (replace(pages[0], content=stray), *pages[1:])
    assert "page 1 cut lines outside any template" in _off(pages_pdf(drawn), pages, mixed)


def test_a_distorted_template_is_found(pages: tuple[Page, ...], mixed: tuple[Template, ...]) -> None:
    """The outline is compared with the template, not with what was drawn: 0.02 mm of width is too much."""
    points = mixed[0].drawing.of_role(Role.CUT)[0].points * (1 + 0.02 / 108, 1)
    strokes = tuple(
        replace(stroke, points=points) if stroke.role is Role.CUT else stroke for stroke in mixed[0].drawing.strokes
    )
    wider = replace(mixed[0], drawing=replace(mixed[0].drawing, strokes=strokes))
    assert "01 fore width" in _off(pages_pdf(pages), pages, (wider, *mixed[1:]))


def test_the_worst_figure_is_named() -> None:
    """The error names the figure that is furthest off, and a figure that is no number is never right."""
    checks = (Check("a", 1.0, 1.0), Check("b", 100.0, 100.3), Check("c", 5.0, 5.02))
    with pytest.raises(CheckError, match=r"b, expected 100\.0000, measured 100\.3000"):
        refuse_if_off(checks)
    assert not Check("d", 1.0, float("nan")).holds


def test_an_empty_cover_can_be_measured(heading: Heading) -> None:
    """Without templates there are still a page and its bars."""
    pages = lay_out((), PageSettings(paper_named("A4")), heading)
    assert isinstance(pages[0].drawing, Drawing)
    assert _off(pages_pdf(pages), pages, ()) == []
