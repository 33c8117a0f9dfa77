"""What no repair of ours can help, as sentences with the path and a remedy.

Decided 2026-11-26: What no waiting mends ends the start: permissions and a read-only file system,
of the files that SQLite puts beside the store as well. A full or failing disk is waited for.
"""

from __future__ import annotations

from pathlib import Path

from strawbell.edges.store.examine import Finding
from strawbell.errors import GrowerError, Problem


def unusable(path: Path, what: str) -> GrowerError:
    """Return that a path cannot be a store."""
    return GrowerError(
        Problem(
            what=f"the store cannot be used: {what}",
            where=str(path),
            allowed="a file in a folder that Strawbell may write",
            remedy="Mend its permissions or give another path in [state] path.",
        )
    )


def foreign(path: Path, finding: Finding) -> GrowerError:
    """Return that a file was never a store of Strawbell."""
    return GrowerError(
        Problem(
            what=f"this is not a store of Strawbell: {finding.why}",
            where=str(path),
            remedy="It was left as it is. Give another path in [state] path.",
        )
    )


def newer(path: Path) -> GrowerError:
    """Return that a newer version wrote a store."""
    return GrowerError(
        Problem(
            what="a newer version of Strawbell wrote this store",
            where=str(path),
            remedy="Update Strawbell, or give another path in [state] path.",
        )
    )
