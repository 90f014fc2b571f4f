"""Where the command begins: before anything else is loaded, an interrupt is given its answer.

Only the functions here touch signals. Importing this module, or any other of the package, does not.
"""

import signal


def main() -> None:
    """Entry point of the command."""
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
