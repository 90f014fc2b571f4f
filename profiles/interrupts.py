"""An interrupt (Ctrl-C) of the command: one sentence and exit code 130, wherever it comes.

Nothing is raised: an exception in the middle of an import, a destructor or another library's callback would be printed
there, changed into another fault, or lost. `answer` ends the process in place, after what `before_end` names. Code
that must not be cut short is `held`: an interrupt is answered behind it, or where the code itself calls `check`.

Nobody but the command's entry installs `answer`; without it nothing here has any effect.
"""

import contextlib
import os
from collections.abc import Callable, Iterator
from dataclasses import field
from types import FrameType
from typing import NoReturn

from profiles.values import dataclass

EXIT_CODE = 130
"""128 + SIGINT, as shells count it."""


class Stopped(BaseException):
    """Work under way is to be undone: an interrupt came. `held` answers it."""


@dataclass(slots=True)
class _State:
    owner: int = 0
    """The process that answers: a fork of it does not."""
    asked: bool = False
    holds: int = 0
    first: list[Callable[[], object]] = field(default_factory=list)
    written: list[str] = field(default_factory=list)
    so_far: str = ""


_state = _State(os.getpid())


def answer(_signal: int, _frame: FrameType | None) -> None:
    """The handler: ends the process, or has `held` code end it."""
    if os.getpid() != _state.owner:
        return
    if _state.asked:
        return  # it is being answered
    _state.asked = True
    if not _state.holds:
        _end()


@contextlib.contextmanager
def held() -> Iterator[None]:
    """Code that is not cut short; it may call `check` where it can be undone."""
    _state.holds += 1
    try:
        yield
    finally:
        _state.holds -= 1
        if _state.asked and not _state.holds:
            _end()


def check() -> None:
    """Raises Stopped when an interrupt came. For `held` code, at places from which it tidies up after itself."""
    if _state.asked and _state.holds:
        raise Stopped


@contextlib.contextmanager
def before_end(call: Callable[[], object]) -> Iterator[None]:
    """While this lasts an interrupt is answered after `call`, the last one named first."""
    _state.first.append(call)
    try:
        yield
    finally:
        _state.first.remove(call)


def wrote(name: str) -> None:
    """Something is written that an interrupt does not take back."""
    _state.written.append(name)


def wrote_so_far(words: str) -> None:
    """What is said, instead of names, of the many things that are written."""
    _state.so_far = words


def sentence() -> str:
    """What is said of an interrupt."""
    if _state.so_far:
        return f"stopped; {_state.so_far}"
    if not _state.written:
        return "stopped; nothing was written"
    return f"stopped; {' and '.join(_state.written)} is written and complete"


def _end() -> NoReturn:
    for call in reversed(_state.first):
        with contextlib.suppress(Exception):
            call()
    with contextlib.suppress(OSError):
        os.write(2, f"stationer: {sentence()}\n".encode(errors="backslashreplace"))
    os._exit(EXIT_CODE)
