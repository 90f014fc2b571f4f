"""Where the command begins: before anything else is loaded, an interrupt is given its answer.

Only the functions here touch signals. Importing this module, or any other of the package, does not.
"""

import os
import signal

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""Variables that keep the linear algebra library of numpy to one thread. The work is shared between processes, and
several threads take longer here: on a hull of a million triangles they only waited for each other, for a second in all.
Sums then also round in the same way whatever the number of cores."""


def main() -> None:
    """Entry point of the command."""
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")  # read when numpy is loaded
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:  # a shell's background job is not interrupted
        _answer_interrupts()
    from profiles.cli import main as command  # an interrupt is answered from here on

    try:
        command()
    finally:
        # All is said. An interrupt while the interpreter clears up would end it with other words and another code.
        signal.signal(signal.SIGINT, signal.SIG_IGN)


def _answer_interrupts() -> None:
    """Give interrupts their answer; one that comes while that is being loaded waits for it."""
    waiting: list[int] = []
    signal.signal(signal.SIGINT, lambda number, _frame: waiting.append(number))
    from profiles.interrupts import answer  # nothing is loaded before the line above

    signal.signal(signal.SIGINT, answer)
    if waiting:
        signal.raise_signal(signal.SIGINT)
