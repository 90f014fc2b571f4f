import pickle
import xml.etree.ElementTree as ET  # the tests read what we wrote ourselves

from profiles.paper.drawing import STYLES, Drawing, Label, Role, line, rectangle
from profiles.paper.svg import drawing_svg

SVG = "{http://www.w3.org/2000/svg}"

ONE_OF_EACH = Drawing(
    210.0,
    297.0,
    tuple(rectangle(role, 10.0 + k, 20.0, 5.00004, 7.123456) for k, role in enumerate(Role)),
    (Label('3 < 4 & "5"', 10.0, 12.0, 3.0, "middle", angle=-90.0, bold=True),),
)


def _tree(drawing: Drawing) -> ET.Element:
    return ET.fromstring(drawing_svg(drawing))  # noqa: S314 - our own text


def test_a_unit_of_the_picture_is_a_millimetre() -> None:
    """Width and height are in mm and the view box has the same numbers."""
    root = _tree(Drawing(215.9, 279.4))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("215.9mm", "279.4mm", "0 0 215.9 279.4")


def test_every_role_is_a_class_with_its_own_looks() -> None:
    """Each stroke is a path whose class is the role, in a group with the colour of the style table."""
    for group in _tree(ONE_OF_EACH).iter(f"{SVG}g"):
        for path in group.iter(f"{SVG}path"):
            style = STYLES[Role(path.get("class", ""))]
            assert group.get("stroke") == style.colour
            assert float(group.get("stroke-width", "0")) == style.width
            assert group.get("fill") == "none"
    classes = {element.get("class") for element in _tree(ONE_OF_EACH).iter(f"{SVG}path")}
    assert classes == {role.value for role in Role}


def test_coordinates_have_four_decimals() -> None:
    """A point is written to 0.0001 mm."""
    drawing = Drawing(50.0, 50.0, (line(Role.CUT, (1.00004, 2.0), (0.00001, 3.33336)),))
    (path,) = _tree(drawing).iter(f"{SVG}path")
    assert path.get("d") == "M1.0000 2.0000L0.0000 3.3334"


def test_each_cut_line_is_a_path_of_its_own() -> None:
    """Outlines are never run together, small marks are."""
    strokes = [line(role, (0.0, k), (9.0, k)) for role in (Role.CUT, Role.MARK) for k in range(5)]
    classes = [path.get("class") for path in _tree(Drawing(50.0, 50.0, tuple(strokes))).iter(f"{SVG}path")]
    assert (classes.count("cut"), classes.count("mark")) == (5, 1)


def test_text_is_escaped_and_placed() -> None:
    """Reserved characters survive, and the text carries anchor, turn and weight."""
    (text,) = _tree(ONE_OF_EACH).iter(f"{SVG}text")
    assert text.text == '3 < 4 & "5"'
    assert text.get("class") == "label"
    assert text.get("text-anchor") == "middle"
    assert text.get("transform") == "rotate(-90 10 12)"
    assert text.get("font-weight") == "bold"


def test_the_same_drawing_gives_the_same_text() -> None:
    """Nothing in the picture depends on when or how often it is made."""
    assert drawing_svg(ONE_OF_EACH, title="a") == drawing_svg(ONE_OF_EACH, title="a")


def test_a_drawing_that_went_to_another_process_is_written_alike() -> None:
    """Every field of strokes and labels comes back from packing, so the picture has the same text."""
    assert drawing_svg(pickle.loads(pickle.dumps(ONE_OF_EACH))) == drawing_svg(ONE_OF_EACH)  # noqa: S301 - packed here
