"""Make man page and completions from the parser while a wheel is built.

They are built, not kept, so that they cannot say anything else than the commands do.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

SHELLS = {
    "bash": "share/bash-completion/completions/strawbell",
    "zsh": "share/zsh/site-functions/_strawbell",
    "fish": "share/fish/vendor_completions.d/strawbell.fish",
}
"""Where each shell looks below a prefix."""
MAN_PAGE = "share/man/man1/strawbell.1"


class Pages(BuildHookInterface[Any]):
    """Adds the pages to the wheel's shared data; an editable installation goes without."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Write the pages to a passing folder and name them to the builder."""
        if version == "editable":
            return
        self._folder = tempfile.TemporaryDirectory(prefix="strawbell-pages-")
        for name, content in pages(Path(self.root) / "daemon").items():
            path = Path(self._folder.name) / name.replace("/", "-")
            path.write_text(content, encoding="utf-8")
            build_data.setdefault("shared_data", {})[str(path)] = name

    def finalize(self, version: str, _build_data: dict[str, Any], _artifact: str) -> None:
        """Clear the passing folder away."""
        if version != "editable":
            self._folder.cleanup()


def pages(source: Path) -> dict[str, str]:
    """Return the man page and the completions by their places below a prefix."""
    import shtab
    from argparse_manpage.manpage import Manpage  # type: ignore[import-untyped]

    sys.path.insert(0, str(source))
    from strawbell import __version__
    from strawbell.cli.parser import build_parser

    parser = build_parser()
    parser.man_short_description = "morning reminders for a straw bale garden"  # type: ignore[attr-defined]
    manual = Manpage(parser)
    manual.source, manual.manual = f"Strawbell {__version__}", "Strawbell"
    made = {MAN_PAGE: str(manual)}
    return made | {place: shtab.complete(parser, shell) for shell, place in SHELLS.items()}
