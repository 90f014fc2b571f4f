"""What is assumed about a hull and overridden beside it; files that are no hulls."""

import gzip
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import trimesh

from tests.desk.browsing import ball, choose_demo, drop_file, hull_ready, type_in

if TYPE_CHECKING:
    from playwright.sync_api import Page


def figure(page: "Page", name: str) -> str:
    """A figure of the hull by its name."""
    return page.locator(f"[data-hull] > div:has(dt:text-is('{name}')) dd").inner_text()


def pick(page: "Page", part_key: str, choice: str) -> None:
    """Override a setting of the hull by its list, wherever it stands; all settings are open."""
    if page.locator("#more-hull-all").get_attribute("open") is None:
        page.locator("#more-hull-all > summary").click()
    page.locator(f"#more-hull-all [data-field='{part_key}'] select").select_option(choice)


def test_an_assumed_unit_is_overridden_beside_its_line(page: "Page", tmp_path: Path) -> None:
    """150 mm read as inches are 3810 mm."""
    hull = ball(tmp_path, subdivisions=3)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    assert figure(page, "Length").startswith("150 mm (5.91 in)")
    line = page.locator("[data-note=assumption] [data-field='hull.unit']")
    assert line.count() == 1
    control = line.locator("input, select")
    if control.evaluate("(element) => element.tagName") == "SELECT":
        control.select_option("in")
    else:
        control.fill("in")
        control.press("Tab")
    page.wait_for_selector("[data-hull] dd:text-matches('^3810 mm')")
    page.locator(".by-hand [data-field='hull.unit'] button").click()
    page.wait_for_selector("[data-hull] dd:text-matches('^150 mm')")


@pytest.mark.slow
def test_the_length_scales_the_hull(page: "Page", tmp_path: Path) -> None:
    """An overall length of 300 mm doubles 150 mm, and the volume eightfold."""
    hull = ball(tmp_path, subdivisions=4)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    before = float(figure(page, "Volume").split()[0])
    page.locator("#more-hull-all > summary").click()
    type_in(page, "#more-hull-all [data-field='hull.length'] input", "300")
    page.wait_for_selector("[data-hull] dd:text-matches('^300 mm')")
    assert float(figure(page, "Volume").split()[0]) == pytest.approx(
        8 * before, rel=0.05
    )  # shown with two or three figures


@pytest.mark.slow
@pytest.mark.parametrize(
    ("key", "choice"), [("hull.nose", "high"), ("hull.up", "y"), ("hull.mirror", "none"), ("hull.solid", "yes")]
)
def test_a_choice_about_the_hull_reads_it_again(page: "Page", tmp_path: Path, key: str, choice: str) -> None:
    """The override stands under “Set by you”, with a way back, and the hull is read with it."""
    hull = ball(tmp_path, subdivisions=3)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    pick(page, key, choice)
    page.wait_for_selector(f".by-hand [data-field='{key}']")
    page.wait_for_selector("html:not([data-work=working])", state="attached")
    hull_ready(page, hull.name)
    page.locator(f".by-hand [data-field='{key}'] button").click()
    page.wait_for_selector(f".by-hand [data-field='{key}']", state="detached")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("key", "words"), [("hull.turn", "z=5"), ("hull.bridge", "3"), ("hull.datum", "12"), ("hull.narrowest", "4")]
)
def test_a_figure_about_the_hull_reads_it_again(page: "Page", tmp_path: Path, key: str, words: str) -> None:
    """The same for what is typed."""
    hull = ball(tmp_path, subdivisions=3)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    page.locator("#more-hull-all > summary").click()
    type_in(page, f"#more-hull-all [data-field='{key}'] input", words)
    page.wait_for_selector(f".by-hand [data-field='{key}']")
    hull_ready(page, hull.name)
    assert page.locator("#hull-fault .fault").count() == 0


@pytest.mark.slow
def test_bodies_are_chosen_by_their_numbers(page: "Page", tmp_path: Path) -> None:
    """Of two separate boxes only the first is used: the length is that of one."""
    boxes = [trimesh.creation.box((100, 30, 20)), trimesh.creation.box((60, 30, 20))]
    boxes[1].apply_translation([150, 0, 0])
    path = tmp_path / "two.stl"
    path.write_bytes((boxes[0] + boxes[1]).export(file_type="stl"))
    drop_file(page, path)
    hull_ready(page, path.name)
    assert figure(page, "Length").startswith("230 mm")
    page.locator("#more-hull-all > summary").click()
    type_in(page, "#more-hull-all [data-field='hull.bodies'] input", "1")
    page.wait_for_selector("[data-hull] dd:text-matches('^100 mm')")


def test_a_wrong_file_gets_its_sentence_and_the_page_goes_on(page: "Page", tmp_path: Path) -> None:
    """Text that calls itself STL is refused beside the file; the next file is read."""
    wrong = tmp_path / "letter.stl"
    wrong.write_text("Dear builder, this is not a hull.\n" * 5)
    drop_file(page, wrong)
    page.wait_for_selector("#hull-fault .fault")
    sentence = page.locator("#hull-fault .fault").inner_text()
    assert sentence.startswith("letter.stl: ")
    assert "Traceback" not in sentence
    choose_demo(page)
    hull_ready(page, "skerrywing.stl")
    assert page.locator("#hull-fault .fault").count() == 0


@pytest.mark.slow
def test_an_unknown_ending_is_refused(page: "Page", tmp_path: Path) -> None:
    """The sentence names the file."""
    wrong = tmp_path / "song.mp3"
    wrong.write_bytes(b"ID3" + bytes(100))
    drop_file(page, wrong)
    page.wait_for_selector("#hull-fault .fault")
    assert "song.mp3" in page.locator("#hull-fault .fault").inner_text()


def test_a_huge_file_is_refused_before_it_is_sent(page: "Page", tmp_path: Path) -> None:
    """65 MiB are above the limit of 64 MiB; nothing is sent."""
    huge = tmp_path / "huge.stl"
    with huge.open("wb") as file:
        file.truncate(65 * 2**20)
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.url) if asked.method == "PUT" else None)
    page.set_input_files("#hull-file", huge)
    page.wait_for_selector("#hull-fault .fault")
    assert "huge.stl" in page.locator("#hull-fault .fault").inner_text()
    assert sent == []


@pytest.mark.slow
def test_a_packed_hull_is_read(page: "Page", tmp_path: Path) -> None:
    """STL under gzip."""
    hull = ball(tmp_path, subdivisions=3)
    packed = tmp_path / "ball.stl.gz"
    packed.write_bytes(gzip.compress(hull.read_bytes()))
    drop_file(page, packed)
    hull_ready(page, packed.name)
    assert figure(page, "Breadth").startswith("50 mm")  # icospheres have a vertex on each axis
