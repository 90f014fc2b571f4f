"""Build -> how the parts of a divided hull go together, for the job book: their order, where they lie, their joints."""

from itertools import accumulate

import numpy as np
import shapely

from profiles.blocks.body import Body
from profiles.blocks.bodyfile import placed_solid
from profiles.book.contents import JointRow, PartRow
from profiles.build import Build
from profiles.hull.parts import Joint
from profiles.paper.jointsheets import holes_of, joint_name
from profiles.paper.sheets import page_numbers

APART = 0.12
"""Of the hull's length; how far parts are moved from each other in the picture."""


def gluing_order(body: Body) -> list[tuple[Joint, str, str]]:
    """Each joint with the part that is glued on there and the one that is there already, in the order of gluing.

    It begins with the main body; each further part goes onto what is there, the larger ones first, by their largest
    joint. Joints that close
    between two parts which are both there already follow the one that brought the second.
    """
    volumes = {piece.name: piece.hull.volume for piece in body.parts}
    there, order, left = {body.parts[0].name}, list[tuple[Joint, str, str]](), list(body.joints)
    while left:
        ready = [(joint, *_ends(joint, there)) for joint in left if there & set(joint.parts)]
        if not ready:  # parts that touch only each other
            there.add(max(left[0].parts, key=lambda name: volumes[name]))
            continue
        joint, part, onto = max(ready, key=lambda end: (end[1] in there, volumes[end[1]], end[0].outline.area))
        order.append((joint, part, onto))
        there.add(part)
        left.remove(joint)
    return order


def _ends(joint: Joint, there: set[str]) -> tuple[str, str]:
    """The part that is glued on, and the other."""
    first, second = joint.parts
    return (second, first) if first in there else (first, second)


def part_rows(build: Build) -> tuple[PartRow, ...]:
    """The parts with their silhouettes and how far each is moved where they are drawn apart."""
    body = build.body
    moves = _moves(body)
    firsts = accumulate((len(piece.blocks) for piece in body.parts), initial=0)
    return tuple(
        PartRow(piece.title, first, len(piece.blocks), extents, _silhouettes(piece, body), moves[piece.name])
        for piece, first, extents in zip(body.parts, firsts, build.layout.part_extents, strict=False)
    )


def joint_rows(build: Build) -> tuple[JointRow, ...]:
    """The joints in the order of gluing."""
    body = build.body
    titles = {piece.name: piece.title for piece in body.parts}
    pages = page_numbers(page.pieces for page in build.layout.pages)
    rows = []
    for joint, part, onto in gluing_order(body):
        name = joint_name(1 + next(n for n, other in enumerate(body.joints) if other is joint))
        holes = holes_of(joint, body.settings.pin)
        shown = {page for title in titles.values() for page in pages.get(f"{name}, {title}", ())}
        rows.append(
            JointRow(
                name,
                titles[part],
                titles[onto],
                joint.outline.area,
                len(holes.pins),
                len(holes.dowels),
                tuple(sorted(shown)),
            )
        )
    return tuple(rows)


def _moves(body: Body) -> dict[str, tuple[float, float, float]]:
    moves = {piece.name: np.zeros(3) for piece in body.parts}
    done = {body.parts[0].name}
    for joint, part, onto in gluing_order(body):
        if part not in done:
            step = np.eye(3)["xyz".index(joint.axis)] * APART * body.hull.length
            moves[part] = moves[onto] + (step if joint.parts[1] == part else -step)
            done.add(part)
    return {name: (float(move[0]), float(move[1]), float(move[2])) for name, move in moves.items()}


def _silhouettes(piece: Body, body: Body) -> tuple[shapely.Geometry, shapely.Geometry]:
    """From the side, (x, -z), and from above, (x, y): of every block the hull of its points, as near as a small picture
    shows.
    """
    solids = [placed_solid(block, body.places) for block in piece.blocks]
    points = [solid[0] for solid in solids if solid]
    views = ((0, 2, -1.0), (0, 1, 1.0))
    side, above = (
        shapely.union_all([shapely.MultiPoint(p[:, (a, b)] * (1.0, sign)).convex_hull for p in points]).buffer(0)
        for a, b, sign in views
    )
    return side, above
