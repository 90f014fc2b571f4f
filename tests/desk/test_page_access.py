"""The page for everybody: axe-core finds nothing in any state, light or dark, and nothing is cut off at 360 px.

Rules: WCAG 2.0, 2.1 and 2.2 at levels A and AA, and the best practices, as axe-core (Deque) tests them.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.desk.browsing import Desk, drop_file, files_ready, small_job

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

axe = pytest.importorskip(
    "axe_playwright_python.sync_playwright", reason="axe-core is missing: pip install axe-playwright-python"
)

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
TABS = ("blocks", "deviation", "others", "sheets", "book")


def violations(page: "Page") -> list[str]:
    """What axe-core finds wrong, with the elements."""
    found: dict[str, Any] = axe.Axe().run(page, options=RULES).response
    return [f"{rule['id']}: {node['target']}" for rule in found["violations"] for node in rule["nodes"]]


def open_all(page: "Page") -> None:
    """Open every disclosure."""
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")


@pytest.mark.parametrize("scheme", ["light", pytest.param("dark", marks=pytest.mark.slow)])
def test_axe_finds_nothing_in_any_state(browser: "Browser", desk: Desk, tmp_path: Path, scheme: str) -> None:
    """Empty, refused, everything open, each tab, a block with its templates, a sheet opened large, a faulty field."""
    with desk.tab(
        browser, color_scheme=scheme, reduced_motion="reduce", viewport={"width": 1440, "height": 1000}
    ) as page:
        found = {"empty": violations(page)}
        wrong = tmp_path / "letter.stl"
        wrong.write_text("not a hull")
        drop_file(page, wrong)
        page.wait_for_selector("#hull-fault .fault")
        found["refused"] = violations(page)
        small_job(page, tmp_path)
        files_ready(page)
        open_all(page)
        found["open"] = violations(page)
        page.locator("#strip [data-block='2']").click()
        page.wait_for_selector(".pair[data-block='2'] svg.template")
        page.locator("[data-mark='3']").first.focus()
        found["block"] = violations(page)
        page.locator("#strip [data-block='1']").click()
        page.wait_for_selector(".pair[data-block='1']")
        found["carved block"] = violations(page)
        for tab in TABS:
            page.locator(f"#tab-{tab}").click()
            if tab == "deviation":
                page.wait_for_selector("#chart[data-drawn]")
            found[tab] = violations(page)
        page.locator("#tab-sheets").click()
        page.locator("[data-sheet='2']").click()
        page.wait_for_selector("#viewer[open]")
        found["sheet"] = violations(page)
        page.keyboard.press("Escape")
        page.fill("#thickness", "-3")
        page.keyboard.press("Tab")
        page.wait_for_selector("#thickness[aria-invalid=true]")
        found["fault"] = violations(page)
        assert {state: faults for state, faults in found.items() if faults} == {}


def test_axe_would_find_something(page: "Page") -> None:
    """The check can fail: a picture without words is found."""
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert any("image-alt" in fault for fault in violations(page))


@pytest.mark.parametrize(
    "width", [360, pytest.param(768, marks=pytest.mark.slow), pytest.param(2560, marks=pytest.mark.slow)]
)
def test_nothing_is_cut_off(browser: "Browser", desk: Desk, tmp_path: Path, width: int) -> None:
    """No state is wider than the window, from 360 to 2560 px; wide tables scroll inside their own frame."""
    with desk.tab(browser, viewport={"width": width, "height": 800}) as page:
        widths = {"empty": page.evaluate("document.documentElement.scrollWidth")}
        small_job(page, tmp_path)
        files_ready(page)
        open_all(page)
        page.locator("[data-add=boards]").click()
        page.locator("#strip [data-block='2']").click()
        page.wait_for_selector(".pair[data-block='2'] svg.template")
        for tab in TABS:
            page.locator(f"#tab-{tab}").click()
            widths[tab] = page.evaluate("document.documentElement.scrollWidth")
        assert {state: wide for state, wide in widths.items() if wide > width} == {}


@pytest.mark.slow
def test_everything_that_can_be_pressed_is_large_enough(browser: "Browser", desk: Desk, tmp_path: Path) -> None:
    """WCAG 2.2, 2.5.8: targets have 24 by 24 CSS px, or are words within a sentence."""
    with desk.tab(browser, viewport={"width": 360, "height": 800}) as page:
        small_job(page, tmp_path)
        files_ready(page)
        open_all(page)
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, a, input, select, summary')]
                .filter((element) => element.checkVisibility({ visibilityProperty: true, opacityProperty: false }))
                .filter((element) => getComputedStyle(element).display !== 'inline')
                .filter((element) => !element.classList.contains('skip'))
                .map((element) => [element, (element.closest('label') ?? element).getBoundingClientRect()])
                .filter(([, box]) => box.width && (box.width < 23.9 || box.height < 23.9))
                .map(([element, box]) => `${element.outerHTML.slice(0, 80)} ${box.width} x ${box.height}`)"""
        )
        assert small == []
