"""Frozen values behave as dataclasses of the standard library do."""

import copy
import dataclasses
import pickle
from typing import Any

import pytest

from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Ours:
    """A value as this package makes it."""

    first: int
    second: list[int] = dataclasses.field(default_factory=list)
    third: str = "c"

    def __post_init__(self) -> None:
        if self.first < 0:
            raise ValueError(self.first)


@dataclasses.dataclass(frozen=True, slots=True)
class Theirs:
    """The same as the standard library makes it."""

    first: int
    second: list[int] = dataclasses.field(default_factory=list)
    third: str = "c"


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """All by name."""

    size: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class More(Ours):
    """One field more."""

    fourth: float = 4.0


@pytest.mark.parametrize(("words", "named"), [((1,), {}), ((1, [2]), {}), ((1,), {"third": "x"})])
def test_shown_and_taken_apart_like_the_standard_ones(words: tuple[Any, ...], named: dict[str, Any]) -> None:
    """repr, asdict, replace and the fields are those of the standard library."""
    ours, theirs = Ours(*words, **named), Theirs(*words, **named)
    assert repr(ours) == repr(theirs).replace("Theirs", "Ours")
    assert dataclasses.asdict(ours) == dataclasses.asdict(theirs)
    assert dataclasses.replace(ours, third="z") == Ours(ours.first, ours.second, "z")
    assert [field.name for field in dataclasses.fields(ours)] == [field.name for field in dataclasses.fields(theirs)]


def test_equal_by_value_and_type() -> None:
    """Values are equal where type and fields are; equal ones have one hash."""
    assert Named(size=1.0) == Named(size=1.0) != Named(size=2.0)
    assert Ours(1) != More(1)
    assert len({Named(size=1.0), Named(size=1.0), Named(size=2.0)}) == 2


def test_frozen() -> None:
    """No field can be set or deleted, and no other attribute made."""
    value: Any = More(1)
    for name in ("first", "other"):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(value, name, 2)
        with pytest.raises(dataclasses.FrozenInstanceError):
            delattr(value, name)
    assert not hasattr(value, "__dict__")


def test_survives_packing() -> None:
    """A value that is pickled or copied is the same value."""
    packed: list[Any] = [Ours(1, [2]), More(1, [], "d", 5.0), Named(size=3.0)]
    for value in packed:
        assert pickle.loads(pickle.dumps(value)) == copy.copy(value) == value  # noqa: S301 - made here


def test_defaults_are_made_for_each() -> None:
    """Two values do not share a list."""
    assert Ours(1).second is not Ours(1).second


def test_wrong_words_are_refused() -> None:
    """Missing, unknown and invalid values are refused as usual."""
    make: Any = Ours
    make_named: Any = Named
    with pytest.raises(TypeError, match=r"Ours.__init__\(\) missing 1 required positional argument: 'first'"):
        make()
    with pytest.raises(TypeError, match="unexpected keyword argument 'fifth'"):
        make(1, fifth=5)
    with pytest.raises(ValueError, match="-1"):
        make(-1)
    with pytest.raises(TypeError):
        make_named(1.0)
