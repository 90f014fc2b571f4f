"""How large a hull file may be. The sizes that a file declares are checked before anything is unpacked or allocated.

The limits keep a damaged or malicious file from using up the machine. Options raise them.
"""

from profiles.errors import HullError
from profiles.values import dataclass

MOST_TRIANGLES = 5_000_000
"""Triangles, every copy counted: some 2.5 GB of memory. A hull that is cut by hand needs a hundredth of it."""

MOST_BYTES = 1 << 29
"""Bytes of an unpacked file: ten million triangles in the smallest format."""

MIB = 1 << 20


@dataclass(frozen=True, slots=True)
class Limits:
    """How large a hull file may be."""

    triangles: int = MOST_TRIANGLES
    """Every copy counted."""
    bytes: int = MOST_BYTES
    """Of the file, and of the data unpacked from it."""

    @property
    def vertices(self) -> int:
        """Three for each triangle, as in a file that shares none."""
        return 3 * self.triangles


def check_triangles(number: int, limits: Limits, what: str = "triangles") -> None:
    """Raises HullError for more triangles than the limit allows."""
    if number > limits.triangles:
        msg = f"it has {number:,} {what}; {limits.triangles:,} triangles are allowed."
        raise HullError(msg, remedy="Reduce the mesh, or raise the limit with --max-triangles.")


def check_vertices(number: int, limits: Limits) -> None:
    """Raises HullError for more vertices than the allowed triangles can have."""
    if number > limits.vertices:
        msg = f"it has {number:,} vertices; {limits.vertices:,} (of {limits.triangles:,} triangles) are allowed."
        raise HullError(msg, remedy="Reduce the mesh, or raise the limit with --max-triangles.")


def check_bytes(number: int, limits: Limits, what: str = "it", share: int = 1) -> None:
    """Raises HullError for more bytes than the limit divided by `share`."""
    allowed = limits.bytes // share
    if number > allowed:
        msg = f"{what} has {_size(number)} of data; {_size(allowed)} are allowed."
        raise HullError(
            msg, remedy=f"Export it with fewer triangles, or raise the limit with --max-bytes {number * share}."
        )


def _size(number: int) -> str:
    return f"{number / MIB:,.1f} MiB" if number >= MIB else f"{number:,} bytes"
