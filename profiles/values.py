"""`dataclass` for frozen values with slots, made in a quarter of the time.

The standard library compiles six methods for each class, half a millisecond each time a program starts; with two
hundred classes that is as much as reading a small hull takes. Here only `__init__` is compiled, and the other methods
are shared. The classes are dataclasses like any other: `fields`, `replace` and `asdict` take them.
"""

import dataclasses
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass"]

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(
        cls: Any = None,  # noqa: ANN401 - a class
        /,
        *,
        frozen: bool = False,
        slots: bool = False,
        eq: bool = True,
        order: bool = False,
        kw_only: bool = False,
    ) -> Any:  # noqa: ANN401 - the class, or a decorator
        """As the decorator of the standard library, which makes all classes that are not frozen values with slots."""
        if cls is None:
            return lambda cls: dataclass(cls, frozen=frozen, slots=slots, eq=eq, order=order, kw_only=kw_only)
        if not (frozen and slots) or order:
            return dataclasses.dataclass(cls, frozen=frozen, slots=slots, eq=eq, order=order, kw_only=kw_only)
        return _frozen(dataclasses.dataclass(cls, init=False, repr=False, eq=False, slots=True, kw_only=kw_only), eq=eq)


def _frozen(cls: Any, *, eq: bool) -> Any:  # noqa: ANN401 - a class
    """The class with the methods of a frozen value, but for those that it defines itself."""
    fields = dataclasses.fields(cls)
    names = [field.name for field in fields]
    values: Callable[[object], tuple[Any, ...]] = (
        attrgetter(*names) if len(names) > 1 else lambda self: tuple(getattr(self, name) for name in names)
    )

    def restore(self: object, state: tuple[Any, ...]) -> None:
        for name, value in zip(names, state, strict=True):
            object.__setattr__(self, name, value)

    def is_equal(self: object, other: object) -> bool:
        return values(self) == values(other) if type(self) is type(other) else NotImplemented

    def show(self: object) -> str:
        shown = ", ".join(f"{field.name}={getattr(self, field.name)!r}" for field in fields if field.repr)
        return f"{type(self).__qualname__}({shown})"

    methods: dict[str, Callable[..., Any]] = {
        "__init__": _compile_init(cls, fields),
        "__repr__": show,
        "__getstate__": lambda self: values(self),  # noqa: PLW0108 - a method, which `values` is not
        "__setstate__": restore,
        "__setattr__": _refuse,
        "__delattr__": _refuse,
    }
    if eq:
        methods |= {"__eq__": is_equal, "__hash__": lambda self: hash(values(self))}
    for name in methods.keys() - cls.__dict__.keys():
        setattr(cls, name, methods[name])
    return cls


def _refuse(_self: object, name: str, *_value: object) -> None:
    message = f"cannot assign to field {name!r}"
    raise dataclasses.FrozenInstanceError(message)


def _compile_init(cls: Any, fields: tuple["dataclasses.Field[Any]", ...]) -> Callable[..., None]:  # noqa: ANN401 - a class
    """`__init__`, which sets each slot by its descriptor, as nothing else may."""
    given: dict[str, Any] = {}
    plain: list[str] = ["self"]
    named: list[str] = []
    lines: list[str] = []
    for number, field in enumerate(fields):
        given[f"set{number}"] = getattr(cls, field.name).__set__
        value, default = field.name, ""
        if field.default is not dataclasses.MISSING:
            given[f"default{number}"], default = field.default, f"=default{number}"
        elif field.default_factory is not dataclasses.MISSING:
            given[f"make{number}"], default = field.default_factory, "=MISSING"
            value = f"make{number}() if {value} is MISSING else {value}"
        (named if field.kw_only else plain).append(field.name + default)
        lines.append(f" set{number}(self, {value})")
    if hasattr(cls, "__post_init__"):
        lines.append(" self.__post_init__()")
    words = ", ".join([*plain, *(["*", *named] if named else [])])
    given["MISSING"] = dataclasses.MISSING
    exec(f"def __init__({words}):\n" + ("\n".join(lines) or " pass"), given)  # noqa: S102 - as the standard library does
    made: Any = given["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    made.__annotations__ = {field.name: field.type for field in fields} | {"return": None}
    return made  # type: ignore[no-any-return]
