"""How many invented examples a test takes: some in the ordinary run, all in `make slow`."""

import os

ALL = bool(os.environ.get("STATIONER_ALL_EXAMPLES"))
"""Set by `make slow`."""


def examples(most: int, some: int) -> int:
    """`most` in `make slow`, else `some`: as many as show that the claim is not broken everywhere."""
    return most if ALL else some
