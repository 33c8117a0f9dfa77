"""Errors of this machine, told from those of a way or of the other side."""

from __future__ import annotations

import errno

OWN_ERRORS = frozenset(
    {errno.EMFILE, errno.ENFILE, errno.ENOMEM, errno.ENOBUFS, errno.EIO, errno.ENOSPC, errno.EDQUOT}
)
"""No files, memory or room are left, or a disk fails (errno(3)): nobody else was asked yet, and
it may be over in a moment."""


def is_own(error: BaseException) -> bool:
    """Return whether an error is about this machine alone."""
    return isinstance(error, OSError) and error.errno in OWN_ERRORS
