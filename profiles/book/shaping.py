"""The chapter on cutting a block to shape: the pair of templates, the wire, the way round, shells, and what is carved.

What it says is common practice; the pictures are drawn from blocks of the job.
"""

from collections.abc import Sequence

from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BlockRow, BookContents
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import paragraph, rows_of, rules
from profiles.book.shapingviews import cradle_view, feature_view, pair_view, tip_views, way_view, wire_view
from profiles.book.tables import Column, side_by_side
from profiles.paper.flow import Item, head
from profiles.units import number_runs, rule_length

SHAPING = "Cutting a block to shape"

PAIR = (
    (
        "Strike the datum lines on both faces of the block, each measured from its squared edges: the table below has "
        "the distances. A piece whose margin was cut away is laid by these lines too: cross on cross."
    ),
    (
        "Lay each template on its own face, printed side out, UP towards the upper edge, and stick it with two strips "
        "of double-sided tape. Push a pin through every hole of the fore template, square to the face, right through "
        "the foam and into the hole of the aft template. If a pin misses its hole, the templates are not in line: lift "
        "the aft one and lay it again."
    ),
    (
        "Run a finger along both edges. They must be smooth: the wire stops at every nick and burns a hollow there. "
        "Stand the block on the board so that the wire can go all the way round, and weight it down."
    ),
)

TENSION = (
    (
        "Stretch the wire until it gives a clear low note when plucked, and keep it so with a spring: hot, it gets "
        "longer. It must reach at least 50 mm beyond each template."
    ),
    (
        "Try the current on a rest of the same foam of the same thickness. Right is a wire that goes through by its "
        "own weight and a light hand, leaves fine threads and hardly any smoke. Then try the pace: count how long 100 "
        "mm take."
    ),
)

CUTTING = (
    (
        "Lead in from the nearest edge of the foam straight to mark 1, both hands at the same time, and stop on the "
        "line with the wire on both templates. Cut out the same way, through the same slot."
    ),
    (
        "One person calls, the same one through the whole block: the number that comes next, then a steady count "
        "towards it. Both hands leave a number at the call and arrive at the next one at the call, so that they go "
        "evenly between them: halfway at half the count. On the shorter side the hand goes slower; it never waits "
        "between two numbers."
    ),
    (
        "Press the wire on the card only as hard as it needs to touch. Let it lead: when the middle lags behind the "
        "ends, the foam comes out hollow. Slow down until it is straight again; do not stop."
    ),
    (
        "At a corner, stop both hands on its number, count one, and go on in the new direction. At a mark where one "
        "hand waits, it rests on the tick with the wire moving, and the other goes on."
    ),
    (
        "If a hand runs off its template, call halt, switch off, and let the wire go cold where it is. Foam that "
        "is too thick there is sanded off later; a cut into the block is filled."
    ),
)

SHELLS = (
    (
        "Keep the shell round the block. Saw it apart at its widest place: the lower half is a cradle in which the "
        "block lies without rocking while you sand it and while glue sets, the upper one presses it down. Write the "
        "block's number on both, and which way is forward."
    ),
    (
        "Take the templates off with a thin blade under the tape, towards the edge. They are needed again if the block "
        "has to be cut a second time."
    ),
)

TIP = (
    (
        "Cut the side profile first: stick one side template to port of the squared block and its mirror image to "
        "starboard, both with the print outwards, and lead the wire round as above. Keep the pieces that come off: lay "
        "them back and hold them with pins, so that the block is square again."
    ),
    (
        "Cut the plan profile in the same way, by the template for the top and the one for the bottom. Then take all "
        "loose pieces away."
    ),
    (
        "What is left is right from the side and from above, and too large at its corners. Draw the places of the "
        "gauges round it. Pare the corners off in flat cuts, first to eight sides, then to sixteen, and hold each "
        "gauge square to the datum at its place: stop as soon as it touches all round."
    ),
    (
        "Sand the rest with a strip of abrasive across the facets, from the large face towards the tip, never on the "
        "face itself."
    ),
)

FEATURE = (
    (
        "The wire goes square round all that a fin or a mast covers. Carve it when the block is out of its shells, "
        "before it is glued: the heavy line inside the templates shows between which marks."
    ),
    (
        "Lay both templates on again and draw the heavy line on the faces. Saw down to the body on either side in "
        "steps, each a little short of the line, then pare with a long thin blade, away from the hand that holds the "
        "block."
    ),
    (
        "Compare with the neighbouring block: where the feature goes on, both must meet. Leave half a millimetre for "
        "sanding."
    ),
)


def shaping_chapter(contents: BookContents, room: Room) -> Chapter:
    """How a block is cut to shape, with pictures of blocks of the job, and the datum lines of every block."""
    width = room.upright[0]
    items = [*head(SHAPING, width), *caution_items(WHERE["shaping"], width)]
    wired, feature, tip = contents.examples.wired, contents.examples.feature, contents.examples.tip
    items += rules("The pair of templates", PAIR, width)
    items += [Item(2.0), *rows_of([pair_view(wired), wire_view(wired)], width)] if wired else []
    items += rules("The wire", TENSION, width)
    items += rules("Round the block", CUTTING, width)
    items += [Item(2.0), *rows_of([way_view(wired), cradle_view(wired)], width)] if wired else []
    items += rules("The shells", SHELLS, width)
    carved = any(block.tip for block in contents.blocks)
    if carved or feature:
        items += [Item(2.0), *caution_items(WHERE["carving"], width)]
    if carved:
        items += rules("Carving a tip", TIP, width)
        items += [Item(2.0), *rows_of(tip_views(tip), width)] if tip else []
    if feature:
        items += [*rules("Carving a feature", FEATURE, width), Item(2.0), *rows_of([feature_view(feature)], width)]
    items += _datum_table(contents.blocks, width)
    return Chapter(SHAPING, (Leaf(tuple(items)),))


DATUM = (
    "Strike both lines on both faces, each from the squared edges that come off the fence: the centre plane from the "
    "port edge, the datum height from the lower edge. Seen from the nose, port is on the right; seen from the tail, on "
    "the left."
)


def _datum_table(blocks: Sequence[BlockRow], width: float) -> list[Item]:
    columns = [
        Column("blocks", wraps=True),
        Column("centre from port edge", "end"),
        Column("datum from lower edge", "end"),
    ]
    groups: dict[tuple[str, str], list[int]] = {}
    for block in blocks:
        groups.setdefault((rule_length(block.port), rule_length(block.below)), []).append(block.number)
    rows = [[number_runs(numbers), *distances] for distances, numbers in groups.items()]
    return [*head("Datum lines of every block", width), *paragraph(DATUM, width), *side_by_side(columns, rows, width)]
