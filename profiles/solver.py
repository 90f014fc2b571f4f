"""Linear and whole-number programs, solved by HiGHS with a single thread, so that the answer is the same everywhere."""

import contextlib
import math
import os
import sys
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.values import dataclass

if TYPE_CHECKING:
    from highspy import Highs, HighsLp


Row = tuple[dict[int, float], float, float]
"""({index: factor}, low, high): limits of a weighted sum."""


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Weighted sums with the same number of terms, as arrays."""

    places: Ints
    """(m, w) indices of the terms, all different within a row."""
    factors: Floats
    """(m, w)."""
    low: Floats
    """(m,) lower limit of each sum."""
    high: Floats
    """(m,) upper limit of each sum."""


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """The solver's result."""

    choice: Floats | None
    """(n,), the best choice found; None if none was found."""
    finished: bool
    """Whether the search was completed: no choice is better, or none keeps the rows."""
    bound: float
    """No choice costs less; infinity if none keeps the rows."""
    prices: Floats
    """(rows,) dual price of each row, 0 or less for an upper limit; all 0 for whole numbers."""


def solve_program(
    cost: Floats,
    rows: Sequence[Row],
    upper: Floats,
    *,
    whole: bool,
    nodes: int | None = None,
    seconds: float = math.inf,
    gap: float = 0.0,
) -> Answer:
    """The cheapest (n,) numbers from 0 to `upper` that keep the rows; `whole` numbers or any.

    A search for whole numbers ends after a number of nodes or seconds, or when no better choice can save more than the
    share `gap` of the cost.

    Items that cost 1 and 1.9 and give 2 and 4, for a demand of 5:

    >>> answer = solve_program(np.array([1.0, 1.9]), [({0: 2.0, 1: 4.0}, 5.0, math.inf)], np.full(2, 9.0), whole=True)
    >>> answer.choice.tolist(), answer.finished, round(answer.bound, 6)
    ([1.0, 1.0], True, 2.9)
    """
    import highspy  # not every command needs it

    limits = {} if nodes is None else {"mip_max_nodes": nodes}
    solver = _make_solver(_model(cost, rows, upper, whole=whole), mip_rel_gap=gap, time_limit=seconds, **limits)
    with _stdout_closed():
        solver.run()
    status, info = solver.getModelStatus(), solver.getInfo()
    solution = solver.getSolution()
    choice = np.array(solution.col_value)
    infeasible = status == highspy.HighsModelStatus.kInfeasible
    feasible = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    bound = info.mip_dual_bound if whole else info.objective_function_value
    return Answer(
        choice=(np.round(choice) if whole else choice) if feasible else None,
        finished=infeasible or status == highspy.HighsModelStatus.kOptimal,
        bound=math.inf if infeasible else float(bound),
        prices=np.zeros(len(rows)) if whole or not feasible else np.array(solution.row_dual),
    )


class GrowingProgram:
    """A linear program to which rows can be added; when it is solved again, it starts from its last answer."""

    def __init__(self, cost: Floats, upper: Floats) -> None:
        """For the cheapest (n,) numbers from 0 to `upper`."""
        import highspy

        # Presolving takes longer than it saves in programs of a few hundred columns that are solved several times.
        # Their factors are all of about one size: without scaling and with the simpler of the weights for edges
        # (Devex) the same answers take two thirds of the time.
        self._solver = _make_solver(
            _model(cost, [], upper, whole=False),
            presolve="off",
            simplex_scale_strategy=0,
            simplex_dual_edge_weight_strategy=1,
        )
        self._optimal = highspy.HighsModelStatus.kOptimal

    def add(self, rows: Rows) -> None:
        """Add rows that a choice must keep."""
        count, width = rows.places.shape
        starts = np.arange(count, dtype=np.int32) * width
        places = rows.places.astype(np.int32).ravel()
        self._solver.addRows(count, rows.low, rows.high, count * width, starts, places, rows.factors.ravel())

    def solve(self) -> Floats | None:
        """The cheapest choice (n,); None if none keeps the rows."""
        with _stdout_closed():
            self._solver.run()
        if self._solver.getModelStatus() != self._optimal:
            return None
        return np.array(self._solver.getSolution().col_value)


def _make_solver(model: "HighsLp", **options: float | str) -> "Highs":
    import highspy

    with _stdout_closed():
        solver = highspy.Highs()  # type: ignore[no-untyped-call]
        for name, value in {"output_flag": False, "threads": 1, "parallel": "off", **options}.items():
            solver.setOptionValue(name, value)
        solver.passModel(model)
    return solver


def _model(cost: Floats, rows: Sequence[Row], upper: Floats, *, whole: bool) -> "HighsLp":
    import highspy

    lengths = [len(row) for row, _, _ in rows]
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(cost), len(rows)
    model.col_cost_ = np.asarray(cost, dtype=np.float64)
    model.col_lower_, model.col_upper_ = np.zeros(len(cost)), np.asarray(upper, dtype=np.float64)
    model.row_lower_ = np.array([row[1] for row in rows], dtype=np.float64)
    model.row_upper_ = np.array([row[2] for row in rows], dtype=np.float64)
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = np.cumsum([0, *lengths], dtype=np.int32)
    model.a_matrix_.index_ = np.array([index for row, _, _ in rows for index in row], dtype=np.int32)
    model.a_matrix_.value_ = np.array([factor for row, _, _ in rows for factor in row.values()], dtype=np.float64)
    if whole:
        model.integrality_ = [highspy.HighsVarType.kInteger] * len(cost)
    return model


@contextlib.contextmanager
def _stdout_closed() -> Iterator[None]:
    """Close standard output to the solver, which prints its name and sometimes more, bypassing Python's own output."""
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
