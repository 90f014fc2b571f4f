"""The error tree, drawn once.

    StationerError            exit code 3
      WordsError              exit code 2   the command line cannot be understood
      JobError                              the job file or an option is at fault
      HullError                             the hull file or its shape is at fault
        TangledError                        the whole mesh is, not one place of it
      PaperError                            the paper cannot hold what must go on it
      FolderError                           the output folder cannot be used
      ClusterError                          the cluster cannot be used, or is gone
      CheckError              exit code 4   our own measurement refused the result

A message says what was expected, what was found and where; `remedy` says what to do next. Both are sentences: `str`
puts the full stops that they lack.
"""

from collections.abc import Callable


class StationerError(Exception):
    """Anything that the user can put right, explained in a sentence."""

    exit_code = 3

    def __init__(self, message: str, *, remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{sentences(self.message)} {sentences(self.remedy)}".rstrip()

    def __reduce__(self) -> tuple[Callable[..., "StationerError"], tuple[type["StationerError"], str, str]]:
        return _again, (type(self), self.message, self.remedy)


def sentences(text: str) -> str:
    """The text with a full stop after every line that has no end yet; a line that announces a list keeps its colon."""
    lines = [line.rstrip() for line in text.splitlines()]
    return "\n".join(line if not line or line.endswith((".", "!", "?", ":")) else f"{line}." for line in lines)


def _again(kind: "type[StationerError]", message: str, remedy: str) -> "StationerError":
    """The same error in another process."""
    return kind(message, remedy=remedy)


class WordsError(StationerError):
    """The words on the command line are wrong."""

    exit_code = 2


class JobError(StationerError):
    """The job file or an option asks for something that cannot be; all faults at once."""


class HullError(StationerError):
    """The hull file cannot be read, or its shape cannot be used."""


class TangledError(HullError):
    """An outline crosses itself everywhere: no other place of the hull will do instead."""


class PaperError(StationerError):
    """The paper cannot hold the bars, the margins or a template."""


class FolderError(StationerError):
    """The output folder cannot be written, or holds something that is not ours."""


class ClusterError(StationerError):
    """The cluster cannot be reached or used, or is lost."""


class CheckError(StationerError):
    """The finished pages were measured and are not what was asked for."""

    exit_code = 4
