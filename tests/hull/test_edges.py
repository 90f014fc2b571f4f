"""A single sound shell is identified without a table of edges, and nothing else is taken for one."""

import numpy as np
import pytest
import trimesh

from profiles.arrays import Ints
from profiles.hull.edges import is_one_shell


def sphere(subdivisions: int = 2) -> Ints:
    return np.asarray(trimesh.creation.icosphere(subdivisions=subdivisions).faces, dtype=np.int64)


def count_of(faces: Ints) -> int:
    return int(faces.max()) + 1


@pytest.mark.parametrize("seed", range(20))
def test_a_sphere_is_one_shell_whatever_its_numbers(seed: int) -> None:
    """Faces in any order, beginning at any corner, with vertices numbered anyhow and far apart."""
    random = np.random.default_rng(seed)
    faces = sphere(seed % 4)
    vertex_count = count_of(faces) * 1000
    faces = random.permutation(vertex_count)[: count_of(faces)][faces][random.permutation(len(faces))]
    faces = np.array([np.roll(face, random.integers(3)) for face in faces])
    assert is_one_shell(faces, vertex_count)
    assert is_one_shell(np.ascontiguousarray(faces[:, ::-1]), vertex_count)


@pytest.mark.parametrize("seed", range(20))
def test_a_sphere_with_a_fault_is_not_one_shell(seed: int) -> None:
    """One face missing, turned, given twice, given back to back, or with a corner on another vertex."""
    random = np.random.default_rng(seed)
    faces = sphere(1 + seed % 3)
    at = int(random.integers(len(faces)))
    turned, moved = faces.copy(), faces.copy()
    turned[at] = turned[at, ::-1]
    moved[at, 0] = (set(range(count_of(faces))) - set(faces[at].tolist())).pop()
    collapsed = faces.copy()
    collapsed[at, 1] = collapsed[at, 0]
    twice = np.concatenate([faces, faces[[at]]])
    back_to_back = np.concatenate([faces, faces[[at]], faces[[at], ::-1]])
    for faulty in (np.delete(faces, at, axis=0), turned, moved, collapsed, twice, back_to_back):
        assert not is_one_shell(faulty, count_of(faces))


def test_two_bodies_and_bodies_that_touch_are_not_one_shell() -> None:
    """Two spheres apart, two that share a vertex, two that share an edge: more than one shell, or a crowded edge."""
    faces = sphere(1)
    many = count_of(faces)
    apart = np.concatenate([faces, faces + many])
    assert not is_one_shell(apart, 2 * many)
    at_a_vertex = apart.copy()
    at_a_vertex[at_a_vertex == many] = 0
    assert not is_one_shell(at_a_vertex, 2 * many)
    at_an_edge = apart.copy()
    a, b = faces[0, :2].tolist()
    at_an_edge[at_an_edge == a + many] = a
    at_an_edge[at_an_edge == b + many] = b
    assert not is_one_shell(at_an_edge, 2 * many)


@pytest.mark.parametrize(
    "faces", [np.zeros((0, 3)), np.array([[0, 1, 2]]), np.array([[0, 1, 2], [2, 1, 0]]), np.array([[0, 1, 2]] * 3)]
)
def test_hardly_any_faces_are_no_shell(faces: Ints) -> None:
    """Nothing, one face, two back to back, one three times."""
    assert not is_one_shell(faces.astype(np.int64), 3)


def test_a_tetrahedron_is_the_least_shell() -> None:
    """Four faces, every edge once each way."""
    assert is_one_shell(np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]), 4)
