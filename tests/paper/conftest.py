"""Invented templates: what a block face draws, with every label clear of every other."""

from collections.abc import Callable

import numpy as np
import pytest

from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing, Label, Role, Stroke, circle, freeze, line, rectangle
from profiles.paper.template import Template

Maker = Callable[..., Template]


def _template(block: int = 1, face: str = "fore", width: float = 150.0, height: float = 105.0) -> Template:
    """A superellipse in a block box with datum cross, pins, marks and labels, 12 mm of sheet round the box."""
    pad, count = 12.0, 120
    x, y = pad + width / 2, pad + height / 2
    turn = np.linspace(0.0, 2 * np.pi, count, endpoint=False)
    round_x, round_y = (np.sign(f) * np.abs(f) ** 0.8 for f in (np.cos(turn), np.sin(turn)))

    def outline(inset: float) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        return np.column_stack([x + (width / 2 - inset) * round_x, y + (height / 2 - inset) * round_y])

    name = f"{block:02d} {face}"
    strokes = [
        rectangle(Role.BOX, pad, pad, width, height),
        Stroke(Role.CUT, freeze(outline(6.0)), closed=True),
        Stroke(Role.FINISHED, freeze(outline(8.0)), closed=True),
        line(Role.DATUM, (pad - 4, y), (pad + width + 4, y)),
        line(Role.DATUM, (x, pad - 4), (x, pad + height + 4)),
        circle(Role.PIN, x - width / 5, y, 1.5),
        circle(Role.PIN, x + width / 5, y, 1.5),
    ]
    labels = [
        Label(name, x, y - height / 15, min(width / 12, 8.0), "middle", bold=True),
        Label("UP", x, pad - 6, 3.0, "middle", bold=True),
        Label(f"{width:g}", x + 8, pad + height + 6, 3.0),
        Label(f"{height:g}", pad - 3, y + 10, 3.0, "middle", angle=-90.0),
        Label("x 40, plan 7c1d-09aa", x, y + height / 8, min(width / 20, 3.0), "middle"),
    ]
    edge = outline(6.0)
    for k in range(0, count, count // 8):
        inward = (np.array([x, y]) - edge[k]) / np.hypot(x - edge[k, 0], y - edge[k, 1])
        strokes.append(line(Role.MARK, tuple(edge[k] - 1.5 * inward), tuple(edge[k] + 1.5 * inward)))
        at = edge[k] + 5.5 * inward
        labels.append(Label(str(k), float(at[0]), float(at[1]) + 1.0, 2.4, "middle"))
    sheet = Drawing(width + 2 * pad, height + 2 * pad, tuple(strokes), tuple(labels))
    return Template(name, sheet, (x, y))


@pytest.fixture(name="template")
def fixture_template() -> Maker:
    """A maker of templates: block, face, and the size of the block box in mm."""
    return _template


@pytest.fixture(name="mixed")
def fixture_mixed() -> tuple[Template, ...]:
    """Six faces that share pages on A4, one that no A4 holds, and two small ones."""
    faces = [_template(block, face, 120.0, 80.0) for block in (1, 2, 3) for face in ("fore", "aft")]
    return (
        *faces,
        _template(4, "fore", 300.0, 340.0),
        _template(4, "aft", 60.0, 45.0),
        _template(5, "fore", 60.0, 45.0),
    )


@pytest.fixture(name="heading")
def fixture_heading() -> Heading:
    """What the invented pages belong to."""
    return Heading("Test launch, 600 mm", "40 mm", "7c1d-09aa")
