"""Commands that print a password or a token."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import pytest

from strawbell.edges.programs import SecretCommand, SecretCommandError

PYTHON = sys.executable
LONG_S = 20.0


def script(folder: Path, code: str) -> str:
    """Return a command that runs some Python."""
    file = folder / "say it.py"
    file.write_text(code, encoding="utf-8")
    return f"{PYTHON} '{file}'"


@pytest.mark.parametrize(
    ("printed", "secret"),
    [
        ("rye\\n", "rye"),
        ("rye", "rye"),
        ("rye\\r\\nuser: grower\\n", "rye"),
        (" r y e \\n", " r y e "),
        ("Grünkohl ß 🌱\\n", "Grünkohl ß 🌱"),
    ],
)
def test_the_secret_is_the_first_line(tmp_path: Path, printed: str, secret: str) -> None:
    """Without its end, in UTF-8, with its blanks."""
    code = f'import sys; sys.stdout.buffer.write("{printed}".encode())'
    assert SecretCommand(script(tmp_path, code)).first_line(LONG_S) == secret


def test_the_command_sees_none_of_our_secrets_and_no_keyboard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it asks is answered by nothing, and a password in our surroundings stays there."""
    monkeypatch.setenv("STRAWBELL_EMAIL__PASSWORD", "straw secret")
    monkeypatch.setenv("WHERE_KEYS_ARE", "here")
    code = """
import os, sys
print(os.environ.get("STRAWBELL_EMAIL__PASSWORD"), os.environ["WHERE_KEYS_ARE"], sys.stdin.read())
"""
    assert SecretCommand(script(tmp_path, code)).first_line(LONG_S) == "None here "


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("import sys; print('rye', file=sys.stderr); print('rye'); sys.exit(3)", "code 3"),
        ("print()", "printed no secret"),
        ("", "printed no secret"),
        ("import sys; sys.stdout.buffer.write(b'\\xff')", "printed no secret"),
    ],
)
def test_a_command_without_a_secret_is_told_without_its_words(
    tmp_path: Path, code: str, said: str
) -> None:
    """Neither what it prints nor what it complains of may be shown."""
    with pytest.raises(SecretCommandError) as caught:
        SecretCommand(script(tmp_path, code)).first_line(LONG_S)
    assert said in str(caught.value)
    assert "rye" not in str(caught.value)
    assert str(tmp_path) not in str(caught.value)


def test_a_command_that_is_not_there_is_told_by_name() -> None:
    """Its words are not."""
    with pytest.raises(SecretCommandError, match="no-such-command gave no secret") as caught:
        SecretCommand("/nowhere/no-such-command rye")
    assert "rye" not in str(caught.value)


def test_a_command_that_waits_ends_at_the_limit_with_all_it_started(tmp_path: Path) -> None:
    """As one that asks for a passphrase; its children hold its output open."""
    code = """
import subprocess, sys, time
subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
time.sleep(600)
"""
    with pytest.raises(SecretCommandError, match="did not end in time"):
        SecretCommand(script(tmp_path, code)).first_line(0.3)


def test_a_command_can_be_broken_off(tmp_path: Path) -> None:
    """Strawbell stops without waiting for it."""
    running = SecretCommand(script(tmp_path, "import time; time.sleep(600)"))
    errors: list[SecretCommandError] = []

    def wait() -> None:
        try:
            running.first_line(LONG_S)
        except SecretCommandError as error:
            errors.append(error)

    worker = threading.Thread(target=wait)
    worker.start()
    running.break_off()
    worker.join(LONG_S)
    assert not worker.is_alive()
    assert len(errors) == 1
