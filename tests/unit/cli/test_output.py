"""How wide the text of the commands is."""

from __future__ import annotations

import io
import sys

import pytest

from strawbell.cli.main import Harmless, harmless_streams, text_width


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


@pytest.mark.parametrize(
    ("written", "printed"),
    [
        ("Row \u202eA", "Row \\u202eA"),
        ("\u2066Row\u2069 \u200f", "\\u2066Row\\u2069 \\u200f"),
        ("bell \x07, clear \x1b[2J, C1 \x9b2J", "bell \\u0007, clear \\u001b[2J, C1 \\u009b2J"),
        ("Z\u00fcrich, \u0645\u0648\u0632, \u5742\n\ttwo lines", None),
        ("family \U0001f468\u200d\U0001f469", None),
        ("\r\x1b[K", None),
    ],
    ids=["override", "isolates", "controls", "letters of the world", "joiner", "a wiped line"],
)
def test_nothing_printed_steers_the_terminal_or_turns_a_line_around(
    written: str, printed: str | None
) -> None:
    """It is written out as JSON does it; the text of every language stays as it is."""
    screen = Screen(terminal=True)
    Harmless(screen).write(written)
    assert screen.getvalue() == (written if printed is None else printed)


def test_while_a_command_runs_both_streams_are_harmless(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    screens = Screen(terminal=True), Screen(terminal=True)
    monkeypatch.setattr(sys, "stdout", screens[0])
    monkeypatch.setattr(sys, "stderr", screens[1])
    with harmless_streams():
        print("\u202eout")
        print("\u202eerr", file=sys.stderr)
    assert [each.getvalue() for each in screens] == ["\\u202eout\n", "\\u202eerr\n"]
    assert (sys.stdout, sys.stderr) == screens
