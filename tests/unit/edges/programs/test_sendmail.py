"""The sendmail program of this machine, played by scripts with its interface."""

from __future__ import annotations

import shutil
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from strawbell.app.outbox import queue
from strawbell.edges import programs
from strawbell.edges.programs import SendmailChannel, is_kept_from_privileges
from strawbell.model.notice import OutboxRow, Outcome
from support.fake_clock import DAWN
from support.notices import SECRET, notice

LONG_S = 20.0


def program(folder: Path, code: str) -> Path:
    """Write a program; `words` and `mail` are what it was given."""
    file = folder / "sendmail"
    head = "import os, sys, time\nwords, mail = sys.argv[1:], sys.stdin.buffer.read()\n"
    file.write_text(f"#!{sys.executable}\n{head}{code}\n", encoding="utf-8")
    file.chmod(0o755)
    return file


def channel(folder: Path, code: str, within_s: float = LONG_S) -> SendmailChannel:
    return SendmailChannel(
        "Bales <bales@example.org>",
        ("a@example.org",),
        program=program(folder, code),
        within_s=within_s,
    )


def row(mail: SendmailChannel) -> OutboxRow:
    (made,) = queue(notice(text=".\nFrom here\n"), [mail], DAWN, SECRET)
    return made


def test_the_program_gets_the_frozen_message_and_one_recipient(tmp_path: Path) -> None:
    """A lone dot does not end it (-i), lines end as files have them, options end before names."""
    code = f"open({str(tmp_path / 'got')!r}, 'wb').write(repr(words).encode() + b'\\n' + mail)"
    mail = channel(tmp_path, code)
    made = row(mail)
    delivery = mail.send(made)
    assert delivery.outcome is Outcome.ACCEPTED
    words, _, got = (tmp_path / "got").read_bytes().partition(b"\n")
    assert words == b"['-i', '-f', 'bales@example.org', '--', 'a@example.org']"
    assert got == made.body.replace(b"\r\n", b"\n")


@pytest.mark.parametrize(
    ("code", "settings"),
    [(64, True), (65, True), (67, True), (69, False), (71, False), (74, False), (75, False),
     (77, True), (78, True), (1, True)],
)  # fmt: skip
def test_no_exit_code_gives_a_message_up(tmp_path: Path, code: int, settings: bool) -> None:
    """They do not tell a refusal for now from one for good."""
    mail = channel(tmp_path, f"sys.exit({code})")
    delivery = mail.send(row(mail))
    assert (delivery.outcome, delivery.settings_problem) == (Outcome.LATER, settings)
    assert f"code {code}" in delivery.detail


@pytest.mark.parametrize(
    ("said", "code", "settings", "told"),
    [
        ("sender: server message: 535 5.7.8 Error: authentication failed", 77, True, "password"),
        ("sender: server message: 534-5.7.9 Application-specific", 77, True, "app password"),
        ("sender: server message: 451 4.3.0 later", 69, False, "451 4.3.0"),
        ("sender: server message: 550 5.1.1 who?", 65, True, "recipients"),
        ("sender: cannot connect to 10.2.3.4, port 587", 75, False, "code 75"),
    ],
)
def test_what_a_server_said_through_the_program_names_the_remedy(
    tmp_path: Path, said: str, code: int, settings: bool, told: str
) -> None:
    """Only its codes are repeated."""
    mail = channel(tmp_path, f"print({said!r}, file=sys.stderr); sys.exit({code})")
    delivery = mail.send(row(mail))
    assert (delivery.outcome, delivery.settings_problem) == (Outcome.LATER, settings)
    assert told in delivery.detail
    assert "sender:" not in delivery.detail


def test_a_program_that_hangs_or_is_ended_may_have_taken_the_message(tmp_path: Path) -> None:
    """It is tried again with the same bytes, and nobody says that it did not arrive."""
    hangs = channel(tmp_path, "time.sleep(600)", within_s=0.3)
    assert hangs.send(row(hangs)).outcome is Outcome.UNKNOWN
    dies = channel(tmp_path, "os.kill(os.getpid(), 9)")
    assert dies.send(row(dies)).outcome is Outcome.UNKNOWN


def test_stopping_ends_a_program_that_hangs(tmp_path: Path) -> None:
    """At once, from another thread."""
    begun = tmp_path / "begun"
    mail = channel(tmp_path, f"open({str(begun)!r}, 'w').close(); time.sleep(600)")
    outcomes: list[Outcome] = []
    worker = threading.Thread(target=lambda: outcomes.append(mail.send(row(mail)).outcome))
    worker.start()
    while not begun.exists():
        worker.join(0.01)
    mail.interrupt(final=True)
    worker.join(LONG_S)
    assert outcomes == [Outcome.UNKNOWN]


def test_a_machine_without_the_program_is_told_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When sending and when checking."""
    monkeypatch.setattr("strawbell.edges.programs.PLACES", str(tmp_path))
    monkeypatch.setenv("PATH", str(tmp_path))
    mail = SendmailChannel("b@example.org", ("a@example.org",))
    for delivery in (mail.send(row(mail)), mail.check()):
        assert (delivery.outcome, delivery.settings_problem) == (Outcome.LATER, True)
        assert "no sendmail program" in delivery.detail
    program(tmp_path, "")
    assert mail.check().outcome is Outcome.ACCEPTED
    assert mail.send(row(mail)).outcome is Outcome.ACCEPTED


def test_a_file_that_is_no_program_is_for_later(tmp_path: Path) -> None:
    """Nothing is raised."""
    mail = SendmailChannel("b@example.org", ("a@example.org",), program=tmp_path)
    assert mail.send(row(mail)).outcome is Outcome.LATER


@pytest.mark.parametrize(("under", "kept"), [((), "False"), (("--no-new-privs",), "True")])
def test_a_service_that_keeps_its_programs_from_a_group_of_their_own_knows_it(
    under: tuple[str, ...], kept: str
) -> None:
    """As the shipped units do; a real process of Linux, by setpriv (util-linux)."""
    if shutil.which("setpriv") is None:
        pytest.skip("setpriv is not installed")
    if not under and is_kept_from_privileges():
        pytest.skip("the tests themselves run so")
    code = "from strawbell.edges.programs import is_kept_from_privileges as k; print(k())"
    command = ["setpriv", *(under or ("--clear-groups",)), sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == kept


def test_such_a_service_is_told_the_other_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The local mail system is reached by its port."""
    monkeypatch.setattr(programs, "is_kept_from_privileges", lambda: True)
    mail = channel(tmp_path, "sys.exit(75)")
    assert 'host to "localhost", port to 25' in mail.send(row(mail)).detail
