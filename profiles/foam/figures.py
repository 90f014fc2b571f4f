"""Cutting plan -> figures for report.json, and rows and sentences for people. Lengths mm, volumes mm3."""

from collections import Counter
from dataclasses import asdict
from itertools import accumulate

from profiles.foam.accuracy import LengthError
from profiles.foam.cutting import Billet, Box3, Cut, CutPlan, FenceSetting, Stage
from profiles.foam.layers import Halved
from profiles.foam.stock import Board
from profiles.foam.task import board_values
from profiles.foam.wire import MAX_VOLTS, WireFigures
from profiles.units import Figures, area_units, bare_area, round_figures, sizes_text
from profiles.values import dataclass

SAME_COST = 1e-9
"""A smaller gap of the cost is rounding."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a block comes from."""

    billet: int
    strip: int
    blank: int
    layers: tuple[str, ...]
    """Names of the boards that are glued flat, or of the single board."""
    turned: bool
    """True if its width lies along the grain, which is the board's length; otherwise its height does."""
    sliced: bool
    """True if the blank is thicker than the block."""


def origins(plan: CutPlan) -> dict[int, Origin]:
    """Block number -> where the block comes from; blocks that the foam does not yield are left out."""
    return {
        block.block: Origin(
            billet.number,
            block.strip,
            block.blank,
            tuple(board.name for board in billet.boards),
            block.turned,
            billet.is_sliced(block),
        )
        for billet in plan.billets
        for block in billet.blocks
    }


@dataclass(frozen=True, slots=True)
class BoardUse:
    """The boards of one kind that a plan uses."""

    board: Board
    used: int

    @property
    def buy(self) -> bool:
        """Whether they are to be bought: the job does not say that there are any."""
        return self.board.count is None

    @property
    def price(self) -> float | None:
        """Price of all of them; None if the job gives none."""
        return None if self.board.price is None else self.used * self.board.price


def boards_used(plan: CutPlan) -> tuple[BoardUse, ...]:
    """The boards that are used, in the order of the stock."""
    counts = Counter(board for billet in plan.billets for board in billet.kind.uses)
    return tuple(BoardUse(board, counts[n]) for n, board in enumerate(plan.stock) if counts[n])


@dataclass(frozen=True, slots=True)
class Preferences:
    """What a plan is chosen by, in this order; the first figure that differs decides. Lengths mm, areas mm2."""

    cost: float
    """Price of the boards to be bought, or their area."""
    taken: float
    """The same of the boards at hand that are used; offcuts are free."""
    priced: bool
    """Whether these are prices and not areas."""
    glue_lines: int
    slices: int
    fences: int
    """Fence settings; squaring needs none."""
    largest_rest: Box3 | None
    """The largest offcut to keep."""


def preferences(plan: CutPlan) -> Preferences:
    """The figures that a plan is chosen by."""
    used = Counter(board for billet in plan.billets for board in billet.kind.uses)
    to_buy = [board.count is None for board in plan.stock]
    bought, at_hand = board_values(plan.stock, to_buy), board_values(plan.stock, [False] * len(plan.stock))
    rests = [offcut.place for billet in plan.billets for offcut in billet.offcuts]
    counts = [board for board, buy in zip(plan.stock, to_buy, strict=True) if buy or not any(to_buy)]
    return Preferences(
        cost=float(sum(bought[n] * number for n, number in used.items())) if any(to_buy) else 0.0,
        taken=float(sum(at_hand[n] * number for n, number in used.items())),
        priced=bool(counts) and all(board.price or board.offcut for board in counts),
        glue_lines=sum(billet.kind.glue_lines for billet in plan.billets),
        slices=sum(cut.stage is Stage.SLICE for billet in plan.billets for cut in billet.cuts),
        fences=sum(fence.stage is not Stage.SQUARE for fence in plan.fences),
        largest_rest=max(rests, key=lambda place: place.volume, default=None),
    )


def glue_area(plan: CutPlan) -> float:
    """Area of the joints between the layers of all billets, mm2."""
    return sum(billet.kind.length * billet.kind.width * billet.kind.glue_lines for billet in plan.billets)


def cuts_by_fence(plan: CutPlan) -> list[tuple[FenceSetting, list[tuple[Billet, Cut]]]]:
    """Each fence setting with its cuts in order, and the billet of each."""
    numbered = sorted(
        ((billet, cut) for billet in plan.billets for cut in billet.cuts), key=lambda entry: entry[1].number
    )
    ends = accumulate(fence.cuts for fence in plan.fences)
    return [(fence, numbered[end - fence.cuts : end]) for fence, end in zip(plan.fences, ends, strict=True)]


def foam_volumes(plan: CutPlan) -> dict[str, float]:
    """Volume of all boards, and what becomes of it: blocks, offcuts, kerf, trim, waste; mm3."""
    return {
        "boards": float(sum(use.used * use.board.volume for use in boards_used(plan))),
        "blocks": float(sum(block.place.volume for billet in plan.billets for block in billet.blocks)),
        "offcuts": float(sum(offcut.place.volume for billet in plan.billets for offcut in billet.offcuts)),
        "kerf": float(sum(billet.kerf_volume for billet in plan.billets)),
        "trim": float(sum(billet.trim_volume for billet in plan.billets)),
        "waste": float(sum(billet.waste_volume for billet in plan.billets)),
    }


def waste_share(plan: CutPlan) -> float:
    """Share of the foam that is neither block nor an offcut to keep, 0 to 1."""
    volumes = foam_volumes(plan)
    lost = volumes["kerf"] + volumes["trim"] + volumes["waste"]
    return lost / volumes["boards"] if volumes["boards"] else 0.0


def foam_figures(plan: CutPlan, accuracy: LengthError | None, wire: WireFigures) -> Figures:
    """Everything about the foam."""
    return {"foam": cutting_figures(plan) | {"accuracy": accuracy_figures(accuracy)}, "wire": wire_figures_of(wire)}


def cutting_figures(plan: CutPlan) -> Figures:
    """The whole cutting plan as figures."""
    proof = plan.proof
    return round_figures(
        {
            "stock": [asdict(board) for board in plan.stock],
            "used": [
                {"name": use.board.name, "used": use.used, "buy": use.buy, "price": use.price}
                for use in boards_used(plan)
            ],
            "billets": [_billet_figures(billet) for billet in plan.billets],
            "fences": [asdict(fence) for fence in plan.fences],
            "lacking": [asdict(shortage) for shortage in plan.shortages],
            "preferences": asdict(preferences(plan)),
            "proof": {
                "found": proof.cost,
                "bound": proof.bound,
                "gap": proof.gap,
                "method": proof.method,
                "cut_short": proof.cut_short,
            },
            "glue_area": float(glue_area(plan)),
            "volumes": foam_volumes(plan),
        }
    )


def _billet_figures(billet: Billet) -> Figures:
    return {
        "number": billet.number,
        "layers": [board.name for board in billet.boards],
        "halved": None if billet.kind.halved is Halved.NO else str(billet.kind.halved),
        "length": billet.kind.length,
        "width": billet.kind.width,
        "thickness": billet.kind.thickness,
        "measured": billet.kind.actual_thickness,
        "blocks": [
            {
                "block": block.block,
                "strip": block.strip,
                "blank": block.blank,
                "turned": block.turned,
                "sliced": billet.is_sliced(block),
                **asdict(block.place),
            }
            for block in billet.blocks
        ],
        "cuts": [
            {"number": cut.number, "stage": str(cut.stage), "fence": cut.fence, "slot": asdict(cut.slot)}
            for cut in billet.cuts
        ],
        "offcuts": [{"layer": offcut.layer, **asdict(offcut.place)} for offcut in billet.offcuts],
    }


def accuracy_figures(error: LengthError | None) -> Figures | None:
    """Where each block's aft face may lie, mm."""
    if error is None:
        return None
    return round_figures({"glue": error.glue, "stations": [asdict(station) for station in error.stations]})


def wire_figures_of(wire: WireFigures) -> Figures:
    """The wire as figures; every quantity has its unit in its name."""
    figures = asdict(wire)
    del figures["notes"]
    return round_figures(figures)


def wire_rows(wire: WireFigures) -> list[tuple[str, str, str]]:
    """Rows of a label, a value with its unit, and its meaning. If no safe supply is enough, no row states a voltage."""
    gauge = "" if wire.gauge is None else f"AWG {wire.gauge}: "
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
        rows.append(("supply", "none", f"{MAX_VOLTS:g} V is not enough: see the warning"))
    else:
        rating = f"{wire.supply_volts:g} V, {wire.supply_amps:g} A"
        rows.append(("supply", rating, "isolated, adjustable, with a fuse"))
    return rows


def preference_rows(plan: CutPlan) -> list[tuple[str, str, str]]:
    """What a plan is chosen by, in order, as rows of a label, a value and a remark."""
    chosen = preferences(plan)
    by = "by price" if chosen.priced else "by area"
    rest = chosen.largest_rest
    size = "none" if rest is None else sizes_text((rest.along, rest.across, rest.thick), shorten=True)

    def cost(value: float) -> str:
        return f"{value:.2f}" if chosen.priced else f"{bare_area(value, large=True)} {area_units()[1]}"

    proof = describe_proof(plan)
    bought = chosen.cost > 0 or any(board.count is None for board in plan.stock)
    return [
        (
            "cost to buy",
            cost(chosen.cost),
            f"{by}; {proof}" if bought else "nothing is bought",
        ),
        (
            "boards at hand used",
            cost(chosen.taken),
            by if bought else f"{by}; {proof}",
        ),
        ("glue lines", f"{chosen.glue_lines}", ""),
        ("slices", f"{chosen.slices}", ""),
        ("fence settings", f"{chosen.fences}", "squaring not counted"),
        ("largest rest", size, ""),
    ]


def describe_proof(plan: CutPlan) -> str:
    """How good the plan is, in a few words."""
    proof = plan.proof
    if not plan.billets:
        return "no foam is cut"
    if proof.gap < SAME_COST:
        return "least possible (proven)"
    limit = "; the search reached its limit" if proof.cut_short else ""
    if proof.bound <= 0:
        return f"not proven to be the least{limit}"
    return f"at most {100 * proof.gap:.1f} % could be saved{limit}"
