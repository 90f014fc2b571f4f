"""The templates of a block with linked marks, sheets opened large, and the whole job with the keyboard alone."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.desk.browsing import ball, body_ready, drop_file, files_ready, hull_ready, small_job, type_in

if TYPE_CHECKING:
    from playwright.sync_api import Page

WIRE = "document.getElementById('scene').data[5]"
"""The trace of the wire in the 3-D picture."""


def block_chosen(page: "Page", number: int) -> None:
    """Choose a block in the row and wait for its templates."""
    page.locator(f"#strip [data-block='{number}']").click()
    page.wait_for_selector(f".pair[data-block='{number}'] svg.template")


def test_pointing_at_a_mark_lights_it_on_both_faces_and_the_wire(page: "Page", tmp_path: Path) -> None:
    """Mark 7 of the fore face belongs to mark 7 of the aft face; the wire runs from station to station between them."""
    small_job(page, tmp_path)
    block_chosen(page, 2)
    page.locator("[data-mark='7'] .dot").first.hover()
    assert page.locator(".mark.lit").count() == 2
    assert page.locator(".mark.lit text").all_text_contents() == ["7", "7"]
    page.wait_for_selector(".scene[data-wire=on]")
    assert page.evaluate(f"[...{WIRE}.x]") == [50, 100]  # 150 mm of hull are three blocks of 50 mm
    page.locator("#pair-title").hover()
    page.wait_for_selector(".scene[data-wire=off]")
    assert page.locator(".mark.lit").count() == 0


@pytest.mark.slow
def test_both_templates_have_one_scale(page: "Page", tmp_path: Path) -> None:
    """A millimetre is as long on the fore face as on the aft face, across and upright."""
    small_job(page, tmp_path)
    block_chosen(page, 2)
    scales = page.locator(".faces svg.template").evaluate_all(
        "(faces) => faces.map((face) => [face.getScreenCTM().a, face.getScreenCTM().d])"
    )
    assert len(scales) == 2
    flat = [scale for both in scales for scale in both]
    assert max(flat) - min(flat) < 1e-6 * max(flat)


@pytest.mark.slow
def test_templates_are_the_outlines_of_the_hull(page: "Page", tmp_path: Path) -> None:
    """Closed form: the section of the ellipsoid 75 x 25 x 20 at x has the half axes b sqrt(1 - ((75 - x) / 75)^2)."""
    hull = ball(tmp_path, subdivisions=5)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    type_in(page, "#thickness", "30")
    body_ready(page)
    block_chosen(page, 3)
    x = float(page.locator(".faces figcaption").first.inner_text().split(" x ")[1].split()[0])
    box = page.locator(".faces path.finished").first.evaluate(
        "(path) => { const box = path.getBBox(); return [box.width, box.height]; }"
    )
    share = (1 - ((75 - x) / 75) ** 2) ** 0.5
    assert abs(box[0] - 50 * share) < 0.15  # 20,480 flat triangles lie inside the ellipsoid by less
    assert abs(box[1] - 40 * share) < 0.15


@pytest.mark.slow
def test_blocks_can_be_pulled_apart(page: "Page", tmp_path: Path) -> None:
    """With the slider at its end the body is longer by the length of the hull, 150 mm; nothing else moves."""
    small_job(page, tmp_path)
    size = """(axis) => {
        const at = document.getElementById("scene").data[0][axis];
        return Math.max(...at) - Math.min(...at);
    }"""
    before = page.evaluate(size, "x")
    high = page.evaluate(size, "z")
    page.locator("#apart").focus()
    page.keyboard.press("End")
    page.wait_for_selector(".scene[data-apart='100']")
    assert page.evaluate(size, "x") == pytest.approx(before + 150, abs=1e-3)
    assert page.evaluate(size, "z") == high
    page.locator("#apart").press("Home")


@pytest.mark.slow
def test_a_sheet_opens_large_and_closes_with_escape(page: "Page", tmp_path: Path) -> None:
    """Thumbnails are buttons; arrows turn the pages; focus comes back to the thumbnail."""
    small_job(page, tmp_path)
    page.locator("#tab-sheets").click()
    page.wait_for_selector("[data-sheet='2']")
    page.locator("[data-sheet='2']").click()
    assert page.locator("#viewer-title").inner_text().startswith("Sheet 2 of ")
    page.keyboard.press("ArrowRight")
    assert page.locator("#viewer-title").inner_text().startswith("Sheet 3 of ")
    page.wait_for_selector("#viewer img[data-loaded=yes]")
    page.keyboard.press("Escape")
    assert page.locator("#viewer").is_hidden()
    assert page.evaluate("document.activeElement.dataset.sheet") == "2"


@pytest.mark.slow
def test_warnings_show_their_block(page: "Page", tmp_path: Path) -> None:
    """The button beside a warning about a block opens the templates of that block."""
    small_job(page, tmp_path)
    page.locator("#panel-blocks tbody button").nth(1).click()
    page.wait_for_selector(".pair[data-block='2']")
    assert page.evaluate("document.activeElement.id") == "pair-title"


@pytest.mark.slow
def test_other_foams_are_compared_and_taken(page: "Page", tmp_path: Path) -> None:
    """The next boards are listed with the present plan; one button takes another."""
    small_job(page, tmp_path, "40")
    page.locator("#tab-others").click()
    page.locator("#compare").click()
    page.wait_for_selector("#others tbody tr")
    assert page.locator("#others tr.present").count() == 1
    rows = page.locator("#others tbody tr").count()
    assert rows >= 2
    page.locator("#others button").first.click()
    body_ready(page)
    assert page.input_value("#thickness") != "40"


def tab_to(page: "Page", test: str, most: int = 120) -> None:
    """Press the Tab key until the focused element passes a test."""
    for _ in range(most):
        if page.evaluate(f"((element) => {test})(document.activeElement)"):
            return
        page.keyboard.press("Tab")
    message = f"the Tab key never comes to {test}"
    raise AssertionError(message)


def test_the_whole_job_goes_with_the_keyboard_alone(page: "Page", tmp_path: Path) -> None:
    """From the demo hull by thickness, block and mark to the PDF, without a mouse."""
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    tab_to(page, "element.dataset.demo === 'pelloway'")
    page.keyboard.press("Enter")
    body_ready(page)
    tab_to(page, "element.id === 'thickness'")
    page.keyboard.press("Control+A")
    page.keyboard.type("80")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "thickness-slider"
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("#thickness-both:has-text('80.5 mm')")
    body_ready(page)
    tab_to(page, "element.dataset.block !== undefined && element.tagName === 'BUTTON'")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.wait_for_selector(".pair[data-block='3']")
    tab_to(page, "element.dataset.mark !== undefined")
    assert page.locator(".mark.lit").count() == 2
    page.keyboard.press("ArrowRight")
    assert page.locator(".mark.lit").count() == 2
    files_ready(page)
    tab_to(page, "element.dataset.file === 'templates.pdf'")
    with page.expect_download() as taken:
        page.keyboard.press("Enter")
    path = tmp_path / "templates.pdf"
    taken.value.save_as(path)
    assert path.read_bytes().startswith(b"%PDF-")
