"""What the terminal shows: results, then warnings, then the next step; progress goes to standard error.

rich itself respects NO_COLOR and plain pipes. On a terminal, lines break between words; in a pipe each sentence stays
on one line, so that other programs can search it.
"""

from profiles.console.building import (
    changed,
    demos,
    following,
    hull,
    notes,
    openings,
    printing,
    reprinted,
    result,
    stations,
)
from profiles.console.buying import cautions, cuts, foam, wire
from profiles.console.catalogues import catalogue, catalogue_progress, warning
from profiles.console.comparisons import comparison, part_proposal, proposal
from profiles.console.floating import flotation, weights
from profiles.console.terminal import progress, say

__all__ = [
    "catalogue",
    "catalogue_progress",
    "cautions",
    "changed",
    "comparison",
    "cuts",
    "demos",
    "flotation",
    "foam",
    "following",
    "hull",
    "notes",
    "openings",
    "part_proposal",
    "printing",
    "progress",
    "proposal",
    "reprinted",
    "result",
    "say",
    "stations",
    "warning",
    "weights",
    "wire",
]
