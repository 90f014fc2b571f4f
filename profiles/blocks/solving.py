"""Task -> layout and proof."""

from profiles.blocks.cutplan import Proof
from profiles.blocks.patterns import Task
from profiles.blocks.strips import Layout, by_rule, steps_of, volumes


def solved(task: Task) -> tuple[Layout, Proof]:
    """The best layout found."""
    steps = steps_of(task)
    layout, _ = by_rule(task, steps, volumes(task), [float("inf") if b.count is None else b.count for b in task.stock])
    found = sum(not task.stock[p].offcut for b in layout for p in task.kinds[b.kind].layers)
    return layout, Proof(float(found), 0.0, "by rule")
