"""The pictures of the desk in the README: the demo flying boat in a real browser, light, dark and narrow."""

from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.desk.browsing import CHROMIUM, FLAGS, body_ready, choose_demo, files_ready, start_desk, stop_desk

HERE = Path(__file__).parent

PICTURES = (("desk", "light", 1440, 900, None), ("desk-block", "dark", 1280, 860, 6))
"""Name, scheme, width and height of the window in px, and the block whose templates are shown."""


def main() -> None:
    """Write the pictures beside this script."""
    with sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        desk = start_desk()
        try:
            desk.enter(browser)
            for name, scheme, width, height, block in PICTURES:
                look = {
                    "color_scheme": scheme,
                    "reduced_motion": "reduce",
                    "viewport": {"width": width, "height": height},
                }
                with desk.tab(browser, clean=True, **look) as page:
                    choose_demo(page)
                    files_ready(page)
                    body_ready(page)
                    if block:
                        page.locator(f"#strip [data-block='{block}']").click()
                        page.wait_for_selector(f".pair[data-block='{block}'] svg.template")
                        page.locator("#pair-title").evaluate("(title) => title.scrollIntoView({ block: 'start' })")
                        page.locator("[data-mark='14']").first.focus()
                        page.wait_for_selector(".scene[data-wire=on]")
                    page.screenshot(path=HERE / f"{name}.png")
        finally:
            stop_desk(desk)
            browser.close()


if __name__ == "__main__":
    main()
