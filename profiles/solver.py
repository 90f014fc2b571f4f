"""The solver: linear and whole-number programs put to HiGHS, by one thread, so that it answers alike everywhere."""

import contextlib
import math
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiles.arrays import Floats, Ints

if TYPE_CHECKING:
    from highspy import HighsLp


Row = tuple[dict[int, float], float, float]
"""({place: factor}, least, most) of a sum."""


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Sums with as many members each, as arrays."""

    places: Ints
    """(m, w) numbers of the columns; those of one row differ."""
    factors: Floats
    """(m, w)."""
    low: Floats
    """(m,) least of each sum."""
    high: Floats
    """(m,) most of each sum."""


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What the solver says."""

    choice: Floats | None
    """(n,), the best it found; None where it found none."""
    finished: bool
    """Whether it came to an end: nothing is better, or nothing keeps the rows."""
    bound: float
    """Nothing costs less; infinity where nothing keeps the rows."""
    prices: Floats
    """(rows,), what a row's limit costs, 0 or less where it is a most; all 0 for whole numbers."""


def solve_program(
    cost: Floats,
    rows: Sequence[Row],
    most: Floats,
    *,
    whole: bool,
    nodes: int | None = None,
    seconds: float = math.inf,
    gap: float = 0.0,
) -> Answer:
    """The cheapest (n,) numbers from 0 to `most`, whole ones if wished, that keep the rows.

    A search for whole numbers ends after so many nodes or seconds, or when no better choice can save more than `gap`
    of the cost.
    """
    import highspy  # noqa: PLC0415 - no hull needs it

    options: dict[str, bool | float | str] = {
        "output_flag": False,
        "threads": 1,
        "parallel": "off",
        "mip_rel_gap": gap,
        "time_limit": seconds,
    }
    if nodes is not None:
        options["mip_max_nodes"] = nodes
    with _quiet():
        solver = highspy.Highs()  # type: ignore[no-untyped-call]
        for name, value in options.items():
            solver.setOptionValue(name, value)
        solver.passModel(_model(cost, rows, most, whole=whole))
        solver.run()
    status, info = solver.getModelStatus(), solver.getInfo()
    solution = solver.getSolution()
    none = status == highspy.HighsModelStatus.kInfeasible
    found = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    bound = info.mip_dual_bound if whole else info.objective_function_value
    return Answer(
        choice=np.array(solution.col_value) if found else None,
        finished=none or status == highspy.HighsModelStatus.kOptimal,
        bound=math.inf if none else float(bound),
        prices=np.zeros(len(rows)) if whole or not found else np.array(solution.row_dual),
    )


class GrowingProgram:
    """A linear program that rows are added to; solved again, it starts from its last answer."""

    def __init__(self, cost: Floats, most: Floats) -> None:
        """The cheapest (n,) numbers from 0 to `most` are sought."""
        import highspy  # noqa: PLC0415 - as above

        with _quiet():
            self._solver = highspy.Highs()  # type: ignore[no-untyped-call]
            # Presolving takes longer than it saves in programs of a few hundred columns that are solved several times.
            options: dict[str, bool | int | str] = {
                "output_flag": False,
                "threads": 1,
                "parallel": "off",
                "presolve": "off",
            }
            for name, value in options.items():
                self._solver.setOptionValue(name, value)
            self._solver.passModel(_model(cost, [], most, whole=False))
        self._optimal = highspy.HighsModelStatus.kOptimal

    def add(self, rows: Rows) -> None:
        """More sums that must be kept."""
        count, width = rows.places.shape
        starts = np.arange(count, dtype=np.int32) * width
        places = rows.places.astype(np.int32).ravel()
        self._solver.addRows(count, rows.low, rows.high, count * width, starts, places, rows.factors.ravel())

    def solve(self) -> Floats | None:
        """The cheapest choice (n,); None where nothing keeps the rows."""
        with _quiet():
            self._solver.run()
        if self._solver.getModelStatus() != self._optimal:
            return None
        return np.array(self._solver.getSolution().col_value)


def _model(cost: Floats, rows: Sequence[Row], most: Floats, *, whole: bool) -> "HighsLp":
    import highspy  # noqa: PLC0415 - as above

    lengths = [len(row) for row, _, _ in rows]
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(cost), len(rows)
    model.col_cost_ = np.asarray(cost, dtype=np.float64)
    model.col_lower_, model.col_upper_ = np.zeros(len(cost)), np.asarray(most, dtype=np.float64)
    model.row_lower_ = np.array([row[1] for row in rows], dtype=np.float64)
    model.row_upper_ = np.array([row[2] for row in rows], dtype=np.float64)
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = np.cumsum([0, *lengths], dtype=np.int32)
    model.a_matrix_.index_ = np.array([place for row, _, _ in rows for place in row], dtype=np.int32)
    model.a_matrix_.value_ = np.array([factor for row, _, _ in rows for factor in row.values()], dtype=np.float64)
    if whole:
        model.integrality_ = [highspy.HighsVarType.kInteger] * len(cost)
    return model


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Standard output is closed to the solver, which prints its name, and now and then a line more, past Python's."""
    if sys.stdout:  # it may have been closed
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # there is none
        yield
        return
    try:
        with open(os.devnull, "w", encoding="utf-8") as nowhere:  # noqa: PTH123 - not a file
            os.dup2(nowhere.fileno(), 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
