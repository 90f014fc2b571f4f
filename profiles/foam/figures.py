"""Cutting plan -> figures for report.json and lines of the block list. Lengths mm, volumes mm3."""

from collections import Counter
from dataclasses import asdict, dataclass
from typing import Any

from profiles.foam.accuracy import LengthError
from profiles.foam.cutting import Billet, Box3, CutPlan, Placed
from profiles.foam.layers import SAME_THICKNESS
from profiles.foam.stock import Board
from profiles.foam.wire import MOST_VOLTS, WireFigures
from profiles.units import figure

Figures = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a block comes from."""

    billet: int
    strip: int
    blank: int
    layers: tuple[str, ...]
    """Names of the boards that are glued flat, or the one board."""
    sliced: bool
    """True: the blank is thicker than the block."""

    @property
    def told(self) -> str:
        """Like "billet 2, strip 1, blank 3"."""
        return f"billet {self.billet}, strip {self.strip}, blank {self.blank}"


def origins(plan: CutPlan) -> dict[int, Origin]:
    """Block number -> where it comes from; blocks that the foam does not give are left out."""
    return {
        placed.block: Origin(
            billet.number,
            placed.strip,
            placed.blank,
            tuple(board.name for board in billet.boards),
            is_sliced(billet, placed),
        )
        for billet in plan.billets
        for placed in billet.blocks
    }


def is_whole(billet: Billet, place: Box3) -> bool:
    """Whether a block or an offcut is as thick as its billet."""
    return billet.kind.thickness - place.thick <= SAME_THICKNESS


def is_sliced(billet: Billet, placed: Placed) -> bool:
    """Whether the block is thinner than its billet."""
    return not is_whole(billet, placed.place)


@dataclass(frozen=True, slots=True)
class BoardUse:
    """Boards of one kind that a plan takes."""

    board: Board
    used: int

    @property
    def buy(self) -> bool:
        """To be bought: the job does not say that any are there."""
        return self.board.count is None

    @property
    def price(self) -> float | None:
        """Of all of them; None where no price was given."""
        return None if self.board.price is None else self.used * self.board.price


def boards_used(plan: CutPlan) -> tuple[BoardUse, ...]:
    """In the order of the stock; kinds that are not touched are left out."""
    counts = Counter(layer for billet in plan.billets for layer in billet.kind.layers)
    return tuple(BoardUse(board, counts[place]) for place, board in enumerate(plan.stock) if counts[place])


def glue_area(plan: CutPlan) -> float:
    """mm2 of joints between the layers of all billets."""
    return sum(billet.kind.length * billet.kind.width * billet.kind.glue_lines for billet in plan.billets)


def waste_share(plan: CutPlan) -> float:
    """Share of the foam that is taken which is neither block nor an offcut to keep, 0 to 1."""
    taken = sum(use.used * use.board.volume for use in boards_used(plan))
    lost = sum(billet.kerf_volume + billet.trim_volume + billet.waste_volume for billet in plan.billets)
    return lost / taken if taken else 0.0


def cutting_figures(plan: CutPlan) -> Figures:
    """The whole cutting plan as figures."""
    return {
        "stock": [_board(board) for board in plan.stock],
        "used": [
            {"name": use.board.name, "used": use.used, "buy": use.buy, "price": use.price} for use in boards_used(plan)
        ],
        "billets": [_billet(billet) for billet in plan.billets],
        "fences": [{"stage": str(one.stage), "fence": figure(one.fence), "cuts": one.cuts} for one in plan.fences],
        "lacking": [{"blocks": list(one.blocks), "reason": one.reason, "buy": one.buy} for one in plan.lacking],
        "proof": {
            "found": figure(plan.proof.found),
            "bound": figure(plan.proof.bound),
            "gap": figure(plan.proof.gap),
            "method": plan.proof.method,
            "cut_short": plan.proof.cut_short,
        },
        "glue_area": figure(glue_area(plan)),
        "volumes": {
            "boards": figure(sum(use.used * use.board.volume for use in boards_used(plan))),
            "blocks": figure(_sum(placed.place.volume for billet in plan.billets for placed in billet.blocks)),
            "offcuts": figure(_sum(offcut.place.volume for billet in plan.billets for offcut in billet.offcuts)),
            "kerf": figure(_sum(billet.kerf_volume for billet in plan.billets)),
            "trim": figure(_sum(billet.trim_volume for billet in plan.billets)),
            "waste": figure(_sum(billet.waste_volume for billet in plan.billets)),
        },
    }


def _sum(values: Any) -> float:  # noqa: ANN401 - any iterable of floats
    return float(sum(values))


def _board(board: Board) -> Figures:
    return {
        "name": board.name,
        "count": board.count,
        "length": figure(board.length),
        "width": figure(board.width),
        "thickness": figure(board.thickness),
        "measured": None if board.measured is None else figure(board.measured),
        "tolerance": None if board.tolerance is None else [figure(side) for side in board.tolerance],
        "foam": board.foam,
        "price": board.price,
        "offcut": board.offcut,
    }


def _billet(billet: Billet) -> Figures:
    return {
        "number": billet.number,
        "layers": [board.name for board in billet.boards],
        "length": figure(billet.kind.length),
        "width": figure(billet.kind.width),
        "thickness": figure(billet.kind.thickness),
        "measured": figure(billet.kind.measured),
        "blocks": [
            {
                "block": one.block,
                "strip": one.strip,
                "blank": one.blank,
                "turned": one.turned,
                "sliced": is_sliced(billet, one),
                **_place(one.place),
            }
            for one in billet.blocks
        ],
        "cuts": [
            {"number": cut.number, "stage": str(cut.stage), "fence": figure(cut.fence), "slot": _place(cut.slot)}
            for cut in billet.cuts
        ],
        "offcuts": [{"layer": one.layer, **_place(one.place)} for one in billet.offcuts],
    }


def _place(box: Box3) -> Figures:
    return {
        "x": figure(box.x),
        "y": figure(box.y),
        "z": figure(box.z),
        "along": figure(box.along),
        "across": figure(box.across),
        "thick": figure(box.thick),
    }


def wire_rows(wire: WireFigures) -> list[tuple[str, str, str]]:
    """Label, value with unit, and what it means. Where no safe supply is enough, no voltage stands in any row."""
    gauge = "" if wire.gauge is None else f"AWG {wire.gauge}, "
    rows = [
        ("wire", wire.alloy, f"{gauge}{wire.diameter_mm:.3f} mm"),
        ("span", f"{wire.span_mm:g} mm", "heated length between the clamps"),
        ("resistance cold", f"{wire.cold_ohm:.2f} ohm", f"{wire.cold_ohm_per_metre:.2f} ohm per metre"),
        ("", "", f"{wire.cold_ohm_per_foot:.4f} ohm per foot"),
        ("resistance hot", f"{wire.hot_ohm:.2f} ohm", f"at {wire.temperature_celsius:g} degrees C"),
        ("current", f"{wire.current_amps:.2f} A", "in free air; start at half of it"),
    ]
    if wire.voltage_volts is not None:
        rows.append(("voltage", f"{wire.voltage_volts:.1f} V", "across the span"))
    rows.append(("power", f"{wire.power_watts:.0f} W", f"{wire.watts_per_cm:.2f} W per cm"))
    if wire.in_foam_watts is not None:
        rows.append(("power in foam", f"{wire.in_foam_watts:.0f} W", "at most, in the widest block"))
    if wire.supply_volts is None:
        rows.append(("supply", "none", f"{MOST_VOLTS:g} V is not enough: see the warning"))
    else:
        rating = f"{wire.supply_volts:g} V, {wire.supply_amps:g} A"
        rows.append(("supply", rating, "isolated, adjustable, with a fuse"))
    return rows


def wire_figures_of(wire: WireFigures) -> Figures:
    """The wire as figures; every quantity has its unit in its name."""
    figures: Figures = asdict(wire)
    del figures["notes"]
    return {key: figure(value) if isinstance(value, float) else value for key, value in figures.items()}


def foam_figures(plan: CutPlan, accuracy: LengthError | None, wire: WireFigures) -> Figures:
    """All about the foam."""
    foam = cutting_figures(plan) | {"accuracy": accuracy_figures(accuracy)}
    return {"foam": foam, "wire": wire_figures_of(wire)}


def accuracy_figures(error: LengthError | None) -> Figures | None:
    """Where each block's aft face may lie, mm."""
    if error is None:
        return None
    return {
        "glue": figure(error.glue),
        "stations": [
            {
                "x": figure(one.x),
                "known": figure(one.known),
                "worst": [figure(side) for side in one.worst],
                "likely": [figure(side) for side in one.likely],
            }
            for one in error.stations
        ],
    }


def describe_proof(plan: CutPlan) -> str:
    """How good the plan is, in a sentence."""
    proof = plan.proof
    if not plan.billets:
        return "no foam is cut"
    if proof.gap < PROVEN:
        return "least foam possible (proven)"
    limit = "; the search reached its limit" if proof.cut_short else ""
    if proof.bound <= 0:
        return f"not proven to be the least foam{limit}"
    return f"at most {100 * proof.gap:.1f} % of the foam could be saved{limit}"


PROVEN = 1e-9
"""A gap under this is rounding."""
