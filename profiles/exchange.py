"""Two folders change places in one step, where the system can do that.

Linux has had it since 3.15 as renameat2(2) with RENAME_EXCHANGE; Python has no name for it.
"""

import errno
import os
import sys
from pathlib import Path

_HERE = -100
"""AT_FDCWD: names count from the working folder."""

_EXCHANGE = 2
"""RENAME_EXCHANGE."""

_UNKNOWN = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM}
"""What a system or a disk says that cannot do it."""


def exchanged(one: Path, other: Path) -> bool:
    """Whether the two have changed places; False, and nothing done, where that is not possible in one step.

    Raises OSError where it is possible in general and failed here.
    """
    if sys.platform != "linux":
        return False
    import ctypes  # noqa: PLC0415 - seldom needed

    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    if call(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0:
        return True
    fault = ctypes.get_errno()
    if fault in _UNKNOWN:
        return False
    raise OSError(fault, os.strerror(fault), str(other))
