"""The page while things change: the slider, stop, a reload, a server that has gone, a browser without WebGL."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.desk.browsing import (
    CHROMIUM,
    FLAGS,
    Desk,
    ball,
    body_ready,
    drop_file,
    files_ready,
    hull_ready,
    ready,
    small_job,
    stop_desk,
    type_in,
)

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Playwright

MOVE = """(mm) => {
    const slider = document.getElementById("thickness-slider");
    slider.value = mm;
    slider.dispatchEvent(new Event("input", { bubbles: true }));
}"""


def test_the_body_follows_the_slider(page: "Page", tmp_path: Path) -> None:
    """Each move brings a coarse picture; the last one brings the figures of exactly that thickness."""
    small_job(page, tmp_path)
    for mm in (42, 47, 55, 60):
        page.evaluate(MOVE, mm)
        page.wait_for_selector(".scene[data-picture=coarse]")
    body_ready(page)
    assert page.input_value("#thickness") == "60"
    assert page.locator("#thickness-both").inner_text().startswith("60 mm")
    drawn = int(page.locator(".scene").get_attribute("data-blocks") or 0)
    assert (
        drawn == page.locator("#strip button").count() == int(page.locator("#totals .tile strong").first.inner_text())
    )
    assert page.evaluate("performance.getEntriesByName('slider to picture').length") >= 1


@pytest.mark.slow
def test_inches_are_typed_and_shown(page: "Page", tmp_path: Path) -> None:
    """1.5 in of foam are 38.1 mm, whichever way the page shows lengths."""
    small_job(page, tmp_path)
    page.locator("#units label").nth(1).click()
    type_in(page, "#thickness", "1.5")
    body_ready(page)
    assert page.input_value("#thickness") == "1.5"
    assert "38.1 mm" in page.locator("#thickness-both").inner_text()
    page.locator("#units label").first.click()
    assert page.input_value("#thickness") == "38.1"


@pytest.mark.slow
def test_a_wrong_thickness_is_refused_beside_its_field(page: "Page", tmp_path: Path) -> None:
    """The sentence of the server stands beside the field, and the settings stay as they were."""
    small_job(page, tmp_path)
    type_in(page, "#thickness", "-3")
    page.wait_for_selector("#thickness[aria-invalid=true]")
    assert "found -3" in page.locator("#thickness-fault").inner_text()
    type_in(page, "#thickness", "75")
    body_ready(page)
    assert page.locator("#thickness[aria-invalid=true]").count() == 0


def test_long_work_can_be_stopped_and_taken_up_again(page: "Page", tmp_path: Path) -> None:
    """Stop ends the work and says so; the next wish works again."""
    hull = ball(tmp_path, subdivisions=6)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    type_in(page, "#thickness", "10")
    page.wait_for_selector("html[data-work=working]", state="attached")
    page.locator("#stop").click()
    page.wait_for_selector("html[data-work=stopped]", state="attached")
    assert "Stopped" in page.locator("#state-words").inner_text()
    assert page.locator("#stop").is_hidden()
    type_in(page, "#thickness", "75")
    body_ready(page)


def test_a_reload_keeps_the_job_of_the_tab(page: "Page", tmp_path: Path) -> None:
    """Hull, settings and results are there again; another tab has a desk of its own."""
    small_job(page, tmp_path, "60")
    files_ready(page)
    fingerprint = page.locator("#fingerprint").inner_text()
    page.reload()
    ready(page)
    files_ready(page)
    assert page.locator("#fingerprint").inner_text() == fingerprint
    assert page.input_value("#thickness") == "60"
    other = page.context.new_page()
    other.goto(page.url)
    ready(other)
    assert other.locator("[data-hull]").count() == 0


@pytest.mark.slow
def test_the_page_says_so_when_the_server_has_gone(browser: "Browser", own_desk: Desk, tmp_path: Path) -> None:
    """What is on the page stays; the sentence names the command to start again."""
    with own_desk.tab(browser, clean=False) as page:
        small_job(page, tmp_path)
        stop_desk(own_desk)
        page.wait_for_selector("#gone:not([hidden])")
        assert "stationer desk" in page.locator("#gone-words").inner_text()
        assert page.locator("#strip button").count() > 1


def test_without_webgl_pictures_take_the_place_of_3d(playwright: "Playwright", desk: Desk, tmp_path: Path) -> None:
    """The body is a picture, its blocks are chosen in the row, and their templates are there."""
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS[2:], "--disable-3d-apis"])
    try:
        with desk.tab(browser) as page:
            hull = ball(tmp_path, subdivisions=3)
            drop_file(page, hull)
            hull_ready(page, hull.name)
            type_in(page, "#thickness", "50")
            body_ready_flat(page)
            page.locator("#strip [data-block='2']").click()
            page.wait_for_selector(".pair[data-block='2'] svg.template")
    finally:
        browser.close()


def body_ready_flat(page: "Page") -> None:
    """Wait for the printed picture, loaded."""
    page.wait_for_selector("#flat-picture[data-loaded=yes]")
