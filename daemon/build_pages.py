"""Make while a wheel is built what is made of other files of it.

Man page and completions come from the parser, messages read ahead and templates compiled ahead
from those that are written. They are built, not kept, so that they cannot say anything else.
"""

from __future__ import annotations

import json
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
    """Adds what is made to the wheel; an editable installation goes without."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Write what is made to a passing folder and name it to the builder."""
        if version == "editable":
            return
        sys.path.insert(0, str(Path(self.root) / "daemon"))
        self._folder = tempfile.TemporaryDirectory(prefix="strawbell-pages-")
        for kind, made in (("shared_data", pages()), ("force_include", ahead())):
            for name, content in made.items():
                path = Path(self._folder.name) / name.replace("/", "-")
                path.write_text(content, encoding="utf-8")
                build_data.setdefault(kind, {})[str(path)] = name

    def finalize(self, version: str, _build_data: dict[str, Any], _artifact: str) -> None:
        """Clear the passing folder away."""
        if version != "editable":
            self._folder.cleanup()


def pages() -> dict[str, str]:
    """Return the man page and the completions by their places below a prefix."""
    import shtab
    from argparse_manpage.manpage import Manpage  # type: ignore[import-untyped]

    from strawbell import __version__
    from strawbell.cli.parser import build_parser

    parser = build_parser()
    parser.man_short_description = "morning reminders for a straw bale garden"  # type: ignore[attr-defined]
    manual = Manpage(parser)
    manual.source, manual.manual = f"Strawbell {__version__}", "Strawbell"
    made = {MAN_PAGE: str(manual)}
    return made | {place: shtab.complete(parser, shell) for shell, place in SHELLS.items()}


def ahead() -> dict[str, str]:
    """Return the messages of each locale and the compiled templates by their places in a wheel."""
    import jinja2

    from strawbell.words.catalogue import AMERICAN, BRITISH, written
    from strawbell.words.page import compiled_for, environment

    words = "strawbell/words/"
    made = {
        f"{words}ahead/{tongue.locale}.json": json.dumps(written(tongue.locale), ensure_ascii=False)
        for tongue in (BRITISH, AMERICAN)
    }
    with tempfile.TemporaryDirectory(prefix="strawbell-templates-") as folder:
        written_there = environment().overlay(loader=jinja2.PackageLoader("strawbell.words"))
        written_there.compile_templates(folder, zip=None, ignore_errors=False)
        for path in sorted(Path(folder).glob("*.py")):
            place = f"{words}{compiled_for(jinja2.__version__)}/{path.name}"
            made[place] = path.read_text(encoding="utf-8")
    return made
