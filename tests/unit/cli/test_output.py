"""How wide the text of the commands is."""

from __future__ import annotations

import io
import sys

import pytest

from strawbell.cli.output import text_width


class Screen(io.StringIO):
    """Standard output that may be a terminal."""

    def __init__(self, *, terminal: bool) -> None:
        """Say whether it is one."""
        super().__init__()
        self._terminal = terminal

    def isatty(self) -> bool:
        """Return what it was told to be."""
        return self._terminal


@pytest.mark.parametrize(
    ("columns", "width"),
    [("39", 40), ("40", 40), ("41", 41), ("78", 78), ("99", 99), ("100", 100), ("101", 100)],
)
def test_text_is_as_wide_as_the_terminal_within_limits(
    monkeypatch: pytest.MonkeyPatch, columns: str, width: int
) -> None:
    """Below 40 columns nothing reads well, nor above 100."""
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setattr(sys, "stdout", Screen(terminal=True))
    assert text_width() == width


def test_text_in_a_pipe_or_a_file_is_of_one_width_everywhere(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What a script reads does not depend on the window it was started from."""
    monkeypatch.setenv("COLUMNS", "50")
    monkeypatch.setattr(sys, "stdout", Screen(terminal=False))
    assert text_width() == 78
