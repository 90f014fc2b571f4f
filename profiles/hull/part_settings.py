"""What a user says of a part: its name, what belongs to it, and how it is sliced."""

import re
from typing import Annotated, Literal

from profiles.hull.regions import region_of
from profiles.setting import Setting
from profiles.values import dataclass

Slices = Literal["along", "across", "upright"]
"""How a part is sliced: like the main body, outwards from the centre plane (or from port to starboard), or from the
bottom up."""


def as_name(value: object) -> object:
    """The name of a part without spaces around it. Raises ValueError for one that does not begin with a letter."""
    if not isinstance(value, str) or not re.match(r"[A-Za-z]", value.strip()) or not value.strip().isprintable():
        message = f"expected a name that begins with a letter, such as 'fin', found {value!r}"
        raise ValueError(message)
    return value.strip()


def as_region(value: object) -> object:
    """The words of a region as they are. Raises ValueError where they describe none."""
    if isinstance(value, str):
        region_of(value)
        return value
    message = f"expected words such as 'above 60', found {value!r}"
    raise ValueError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSettings:
    """A part that is cut off the hull and sliced its own way."""

    name: Annotated[str, Setting("Name of the part.", parse=as_name, min_length=1, max_length=40)]
    region: Annotated[
        str, Setting("What belongs to it: above 60, beyond 45, fore of 200, body 2.", parse=as_region, min_length=1)
    ]
    slices: Annotated[Slices, Setting("How it is sliced: along, across or upright (along).", key="slice")] = "along"
