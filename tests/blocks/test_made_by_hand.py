"""Bodies whose shape changes along the hull: nothing is missing of what two hands leave, by code of its own."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from shapely import Point, Polygon

from profiles.blocks.blocks import CarvedBlock
from profiles.blocks.body import cut
from profiles.blocks.planning import plan
from profiles.blocks.settings import StationSettings
from profiles.hull.reading import read
from profiles.hull.settings import ReadSettings
from tests.even_hands import worst_missing

KNOWN = ReadSettings(unit="mm", length_axis="x", up="z", nose="low", all_bodies=True)

PROMISED = 0.05
"""mm."""


def turn(mesh: trimesh.Trimesh, angle: float, axis: tuple[float, float, float]) -> trimesh.Trimesh:
    """The mesh turned about an axis by an angle in degrees."""
    mesh.apply_transform(trimesh.transformations.rotation_matrix(np.radians(angle), axis))  # type: ignore[no-untyped-call]
    return mesh


def rod(radius: float, x_fore: float, x_aft: float, sides: int = 64) -> trimesh.Trimesh:
    """A round rod about the x axis."""
    mesh = turn(trimesh.creation.cylinder(radius, x_aft - x_fore, sections=sides), 90, (0, 1, 0))
    mesh.apply_translation(((x_fore + x_aft) / 2, 0, 0))
    return mesh


def whole(*meshes: trimesh.Trimesh) -> trimesh.Trimesh:
    """The union of bodies that overlap."""
    mesh = trimesh.boolean.union(list(meshes), engine="manifold")
    assert isinstance(mesh, trimesh.Trimesh)
    return mesh


def less(mesh: trimesh.Trimesh, *others: trimesh.Trimesh) -> trimesh.Trimesh:
    """A body less others."""
    rest = trimesh.boolean.difference([mesh, *others], engine="manifold")
    assert isinstance(rest, trimesh.Trimesh)
    return rest


def upright(*corners: tuple[float, float], thickness: float = 6.0) -> trimesh.Trimesh:
    """A plate about y = 0: corners in x and z mm."""
    mesh = turn(trimesh.creation.extrude_polygon(Polygon(corners), thickness), 90, (1, 0, 0))
    mesh.apply_translation((0, thickness / 2, 0))
    return mesh


def fork() -> trimesh.Trimesh:
    """A rod that becomes two legs, which spread: the slot between them is a wedge that begins at x = 120 mm."""
    slot = trimesh.creation.extrude_polygon(Polygon([(120, 0), (205, -16), (205, 16)]), 80.0)
    slot.apply_translation((0, 0, -40))
    return less(rod(30, 0, 200), slot)


def tunnel() -> trimesh.Trimesh:
    """A rod with a round tunnel across it, 24 mm through, with its middle at x = 90 mm."""
    across = turn(trimesh.creation.cylinder(12.0, 100.0, sections=48), 90, (1, 0, 0))
    across.apply_translation((90, 0, 0))
    return less(rod(30, 0, 200), across)


def slanted_fin() -> trimesh.Trimesh:
    """A rod with a fin whose leading edge is swept by 60 degrees and whose trailing edge stands upright."""
    return whole(rod(28, 0, 200), upright((60, 15), (150, 15), (150, 62), (130, 62), (60, 22)))


def ring_wing() -> trimesh.Trimesh:
    """A rod in a ring that two struts hold: the ring is a tube of 62 and 70 mm radius from x = 80 to 120 mm."""
    ring = trimesh.creation.extrude_polygon(Point(0, 0).buffer(70, 24).difference(Point(0, 0).buffer(62, 24)), 40.0)
    ring = turn(ring, 90, (0, 1, 0))
    ring.apply_translation((80, 0, 0))
    return whole(rod(20, 0, 200), ring, upright((85, -66), (115, -66), (115, 66), (85, 66)))


def bulb() -> trimesh.Trimesh:
    """A rod with an ellipsoid below it, which begins and ends in points, on a short strut."""
    drop = trimesh.creation.icosphere(4, 1.0)
    drop.apply_scale((45, 12, 12))
    drop.apply_translation((95, 0, -58))
    return whole(rod(26, 0, 200), drop, upright((80, -60), (115, -60), (115, -10), (80, -10)))


def stepped_cylinder() -> trimesh.Trimesh:
    """Rods of 30, 22 and 34 mm radius, one after the other; the steps are at x = 63 and 141 mm."""
    return whole(rod(30, 0, 63), rod(22, 60, 145), rod(34, 141, 200))


@pytest.mark.parametrize("shape", [fork, tunnel, slanted_fin, ring_wing, bulb, stepped_cylinder])
def test_nothing_is_missing_where_the_shape_changes(shape: Callable[[], trimesh.Trimesh], tmp_path: Path) -> None:
    """No point of the surface lies outside what hands leave from mark to mark, or inside both profiles where a block is
    carved; and no more than a third of the blocks are carved.
    """
    mesh = shape()
    mesh.export(tmp_path / "hull.stl")
    hull = read(tmp_path / "hull.stl", KNOWN)
    body = cut(hull, plan(hull, StationSettings(thickness=50.0)))
    skin = trimesh.Trimesh(hull.surface.vertices, hull.surface.faces, process=False)
    points = np.asarray(trimesh.sample.sample_surface(skin, 20_000, seed=7)[0])
    assert worst_missing(body.blocks, points) <= PROMISED
    assert sum(isinstance(block, CarvedBlock) for block in body.blocks) <= len(body.blocks) / 3
