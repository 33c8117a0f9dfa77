"""Load a text as a configuration and return what is told about it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from strawbell.config.load import Loaded, load
from strawbell.errors import GrowerError, Problem
from strawbell.words.catalogue import BRITISH
from support.config_mistakes import SOUND, TODAY

WARNING = BRITISH.say("configuration.look", what="")
"""What a warning begins with where it stands among mistakes."""


@dataclass(frozen=True)
class Trial:
    """The mistakes, missing secrets among them, the warnings, and what was loaded."""

    errors: tuple[Problem, ...]
    warnings: tuple[Problem, ...]
    loaded: Loaded | None

    @property
    def error(self) -> Problem:
        """Return the only mistake."""
        assert len(self.errors) == 1, [each.sentence() for each in self.errors]
        return self.errors[0]

    @property
    def warning(self) -> Problem:
        """Return the only warning, where there is no mistake."""
        assert self.errors == (), [each.sentence() for each in self.errors]
        assert len(self.warnings) == 1, [each.sentence() for each in self.warnings]
        return self.warnings[0]

    @property
    def fine(self) -> bool:
        """Return whether nothing was told."""
        return not self.errors and not self.warnings


def trial(text: str, today: date = TODAY) -> Trial:
    """Load a text from a file that only its owner can read."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "config.toml"
        path.write_text(text, encoding="utf-8")
        path.chmod(0o600)
        try:
            loaded = load(path, {}, today=today)
        except GrowerError as error:
            warnings = tuple(each for each in error.problems if each.what.startswith(WARNING))
            return Trial(
                tuple(each for each in error.problems if each not in warnings), warnings, None
            )
        return Trial(loaded.missing_secrets, loaded.warnings, loaded)


def edited(*edits: tuple[str, str], today: date = TODAY) -> Trial:
    """Load the sound configuration with parts of it replaced."""
    text = SOUND
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return trial(text, today)
