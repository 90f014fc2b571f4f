"""Jobs for the book: a made-up body of any number of blocks, its foam, and billets set by hand."""

from collections.abc import Callable
from functools import partial
from itertools import accumulate

import numpy as np
import pytest

from profiles.book.contents import BlockRow, BookContents, BookFacts, FigureRow, TemplatePlace, Views
from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import (
    Billet,
    Box3,
    Cut,
    CutPlan,
    CuttingSettings,
    FenceSetting,
    Offcut,
    PlacedBlock,
    Proof,
    Stage,
    WantedBlock,
)
from profiles.foam.figures import origins
from profiles.foam.layers import BilletKind
from profiles.foam.stock import Board
from profiles.notes import assumption, warning
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing
from profiles.pictures.bodyview import BlockFigure, body_view
from profiles.pictures.views import Extents

Maker = Callable[..., BookContents]
Clashes = Callable[[Drawing], list[tuple[str, str]]]

NAME = "A body with a name so long that no page head holds all of it, not even one that lies across, 4800 mm in all"


def _board(thickness: float, **more: object) -> Board:
    values = {"name": f"XPS {thickness:g}", "count": None, "length": 1250.0, "width": 600.0, "foam": "XPS"} | more
    return Board(thickness=thickness, **values)  # type: ignore[arg-type] # a test's short hand


def _wanted(count: int) -> list[WantedBlock]:
    """A body swelling towards its middle; every seventh block is thin."""
    swell = [float(np.sin(np.pi * k / (count + 1))) for k in range(1, count + 1)]
    return [
        WantedBlock(k, 27.5 if k % 7 == 0 else 40.0, float(round(60 + 190 * s)), float(round(80 + 210 * s)))
        for k, s in enumerate(swell, start=1)
    ]


def _contents(wanted: list[WantedBlock], plan: CutPlan | None, name: str = "Test launch") -> BookContents:
    ends = [0.0, *accumulate(one.thickness for one in wanted)]
    places = origins(plan) if plan else {}
    rows = tuple(
        BlockRow(
            number=one.number,
            x_fore=ends[k],
            x_aft=ends[k + 1],
            height=one.height,
            width=one.width,
            fore_area=0.7 * one.height * one.width,
            aft_area=0.72 * one.height * one.width,
            pins=0 if one.number % 5 == 0 else 2,
            templates=("fore", "aft"),
            tip=one.number == 1,
            body_volume=None if one.number == 1 else 0.7 * one.thickness * one.height * one.width,
            port=one.width / 2,
            below=0.4 * one.height,
            origin=places.get(one.number),
        )
        for k, one in enumerate(wanted)
    )
    x = np.linspace(0.0, ends[-1], 50)
    swell = np.sin(np.pi * np.clip(x / ends[-1], 0.0, 1.0))[:, None]
    extents = Extents(x, swell * (-140.0, -90.0), swell * (140.0, 110.0))
    figures = [BlockFigure(one.number, 0.1, 1.2) for one in wanted]
    return BookContents(
        Heading(name, "40 mm", "7C1D-09AA"),
        rows,
        tuple(
            TemplatePlace(f"{row.number:02d} {face}", at, (row.number + 1,))
            for row in rows
            for face, at in (("fore", row.x_fore), ("aft", row.x_aft))
        ),
        plan,
        Views(extents, partial(_picture, name, extents, ends, figures)),
        BookFacts(
            key=(FigureRow("length", f"{ends[-1]:.1f} mm"), FigureRow("blocks", str(len(wanted)))),
            wire=(FigureRow("current", "2.4 A", "interpolated between two lines of the table"),),
            wire_cautions=("The table ends here.",),
            accuracy=(FigureRow("length, worst case", "-4.0 / +4.0 mm", "every board at the end of its tolerance"),),
            notes=(warning("check this", 1.0, "block 01"), assumption("the body is longest in x")),
            datum="datum cross: centre plane (y = 0) and 90.0 mm above the lowest point (z = 0)",
        ),
    )


def _picture(
    name: str, extents: Extents, ends: list[float], figures: list[BlockFigure], room: tuple[float, float]
) -> Drawing:
    return body_view(name, extents, ends, figures, room=room)


@pytest.fixture(name="job", scope="session")
def fixture_job() -> Maker:
    """A maker of contents with a cutting plan, from boards of 20 and 40 mm: number of blocks, and the body's name."""

    def made(count: int = 8, name: str = "Test launch") -> BookContents:
        wanted = _wanted(count)
        stock = (_board(40.0, count=2, measured=40.3, length=2500.0), _board(20.0, length=1200.0, price=7.5))
        return _contents(wanted, cut_plan(stock, wanted, CuttingSettings(effort=0)), name)

    return made


@pytest.fixture(name="large", scope="session")
def fixture_large(job: Maker) -> BookContents:
    """Eighty blocks and a name that is too long."""
    return job(80, NAME)


@pytest.fixture(name="tiny", scope="session")
def fixture_tiny(job: Maker) -> BookContents:
    """Three blocks."""
    return job(3)


@pytest.fixture(name="planless", scope="session")
def fixture_planless() -> BookContents:
    """A job without a cutting plan."""
    return _contents(_wanted(4), None)


def _hand_billet(number: int, first_cut: int, blocks: tuple[int, int, int], size: float) -> Billet:
    """Two boards of 20 mm, one of them cut down; one strip with three blocks of `size` x 150, the last one sliced."""
    long, short = _board(20.0, length=1200.0), _board(20.0, length=1000.0)
    kind = BilletKind((0, 1), 1000.0, 600.0, 40.0, 40.0)
    full = Box3(0.0, 0.0, 0.0, 1000.0, 600.0, 40.0)
    layer = Box3(0.0, 0.0, 0.0, 1200.0, 600.0, 20.0)
    strip = Box3(5.0, 5.0, 0.0, 995.0, 150.0, 40.0)
    cuts = [
        Cut(0, Stage.DOWN, 1000.0, layer, Box3(1000.0, 0.0, 0.0, 1.0, 600.0, 20.0)),
        Cut(0, Stage.SQUARE, 0.0, full, Box3(0.0, 4.0, 0.0, 1000.0, 1.0, 40.0)),
        Cut(0, Stage.SQUARE, 0.0, Box3(0.0, 5.0, 0.0, 1000.0, 595.0, 40.0), Box3(4.0, 5.0, 0.0, 1.0, 595.0, 40.0)),
        Cut(0, Stage.STRIP, 150.0, Box3(5.0, 5.0, 0.0, 995.0, 595.0, 40.0), Box3(5.0, 155.0, 0.0, 995.0, 1.0, 40.0)),
    ]
    placed = []
    x = 5.0
    for blank, block in enumerate(blocks, start=1):
        piece = Box3(x, 5.0, 0.0, strip.x + strip.along - x, 150.0, 40.0)
        cuts.append(Cut(0, Stage.ACROSS, size, piece, Box3(x + size, 5.0, 0.0, 1.0, 150.0, 40.0)))
        thick = 32.0 if blank == 3 else 40.0
        placed.append(PlacedBlock(block, Box3(x, 5.0, 0.0, size, 150.0, thick), turned=False, strip=1, blank=blank))
        x += size + 1.0
    last = placed[-1].place
    whole = Box3(last.x, last.y, 0.0, size, 150.0, 40.0)
    cuts.append(Cut(0, Stage.SLICE, 32.0, whole, Box3(last.x, last.y, 32.0, size, 150.0, 1.0)))
    numbered = tuple(Cut(first_cut + n, cut.stage, cut.fence, cut.piece, cut.slot) for n, cut in enumerate(cuts))
    offcuts = (
        Offcut(Box3(5.0, 156.0, 0.0, 995.0, 444.0, 40.0)),
        Offcut(Box3(x, 5.0, 0.0, 1000.0 - x, 150.0, 40.0)),
        Offcut(Box3(1001.0, 0.0, 0.0, 199.0, 600.0, 20.0), layer=0),
    )
    return Billet(number, kind, (long, short), numbered, tuple(placed), offcuts, 1.0, 1.0, 1.0)


@pytest.fixture(name="hand", scope="session")
def fixture_hand() -> Callable[..., BookContents]:
    """A maker of contents whose billets, so many and all alike, are set by hand: number of billets, size of blocks."""

    def made(count: int = 3, size: float = 200.0) -> BookContents:
        billets = tuple(_hand_billet(n + 1, 1 + 8 * n, (3 * n + 1, 3 * n + 2, 3 * n + 3), size) for n in range(count))
        stages: dict[tuple[Stage, float], int] = {}
        for billet in billets:
            for cut in billet.cuts:
                stages[cut.stage, cut.fence] = stages.get((cut.stage, cut.fence), 0) + 1
        plan = CutPlan(
            stock=billets[0].boards,
            settings=CuttingSettings(),
            billets=billets,
            fences=tuple(FenceSetting(stage, fence, cuts) for (stage, fence), cuts in stages.items()),
            shortages=(),
            proof=Proof(2.0 * count, 2.0 * count, "search"),
        )
        wanted = [WantedBlock(k, 32.0 if k % 3 == 0 else 40.0, size, 150.0) for k in range(1, 3 * count + 1)]
        return _contents(wanted, plan)

    return made


SLACK = 0.02
"""mm; what two labels may share: rounding."""


@pytest.fixture(name="clashes", scope="session")
def fixture_clashes() -> Clashes:
    """Pairs of labels whose footprints overlap, and labels that leave the sheet, beside an empty text."""

    def found(drawing: Drawing) -> list[tuple[str, str]]:
        boxes = [(label.text, label.footprint().bounds) for label in drawing.labels]
        pairs = [
            (text, "")
            for text, (left, top, right, bottom) in boxes
            if left < 0 or top < 0 or right > drawing.width or bottom > drawing.height
        ]
        for k, (text, one) in enumerate(boxes):
            for other_text, other in boxes[k + 1 :]:
                across = min(one[2], other[2]) - max(one[0], other[0])
                down = min(one[3], other[3]) - max(one[1], other[1])
                if across > SLACK and down > SLACK:
                    pairs.append((text, other_text))
        return pairs

    return found
