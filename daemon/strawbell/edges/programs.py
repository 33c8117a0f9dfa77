"""Programs of this machine: sendmail, of whichever mail system, and one that prints a secret.

The exit codes of sendmail (sysexits.h) do not tell a refusal for now from one for good: the small
senders give the same for both, and one that only puts mail into a queue gives neither. So a message
is never given up because of one; what the server said, where the program passes it on, names the
remedy.

What the grower's command prints, a password or an access token, is never shown, nor what it
complains of: both may be secret.
"""

from __future__ import annotations

import contextlib
import os
import re
import shlex
import shutil
import signal
import subprocess
from pathlib import Path

from strawbell.edges.machine import is_own
from strawbell.edges.mail_refusals import Login, Reply, remedy_for
from strawbell.edges.mime import compose, envelope_address
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome
from strawbell.words.catalogue import BRITISH

PROGRAM = "sendmail"
PLACES = "/usr/sbin:/usr/lib:/usr/local/sbin"
"""Where it lies beside the places that commands are looked for in (Linux Standard Base)."""

WITHIN_S = 60.0
"""Time for one message [s]: one that sends at once waits for a server itself."""

PASSING_EXITS = {os.EX_UNAVAILABLE, os.EX_OSERR, os.EX_IOERR, os.EX_TEMPFAIL, os.EX_PROTOCOL}
"""Exit codes of what may be over at the next attempt; the others are about the settings."""

_REPLY = re.compile(r"(?<![\d.])([45]\d\d)[ -](.*)", re.DOTALL)
"""The first answer of a server in what the program complains of (RFC 5321, section 4.2)."""

_REFUSED_FOR_GOOD = 500


class SendmailChannel:
    """Hands each notice for each recipient to the program as a message of its own."""

    name = "email"

    def __init__(
        self,
        sender: str,
        recipients: tuple[str, ...],
        answers_to: str | None = None,
        *,
        program: Path | None = None,
        within_s: float = WITHIN_S,
    ) -> None:
        """Keep the settings; the program is looked for at each message unless it is given."""
        self.recipients = recipients
        self.answers_to = answers_to
        self._sender, self._program, self._within_s = sender, program, within_s
        self._process: subprocess.Popen[bytes] | None = None
        self._interrupted = False

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        """Return the message that will be sent, the same for every attempt."""
        return compose(notice, self._sender, recipient, message_id, self.answers_to or "")

    def send(self, row: OutboxRow) -> Delivery:
        """Hand the message over once; accepted means that the program has taken it."""
        program = self._find()
        if program is None:
            return _no_program()
        command = [
            str(program),
            "-i",
            "-f",
            envelope_address(self._sender),
            "--",
            envelope_address(row.recipient),
        ]
        try:
            with subprocess.Popen(  # noqa: S603 - a program of this machine, no shell
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                start_new_session=True,
            ) as process:
                self._process = process
                return self._hand_over(process, row.body.replace(b"\r\n", b"\n"))
        except OSError as error:
            detail = BRITISH.say("sendmail.not-taken", why=error.strerror)
            return Delivery(Outcome.LATER, detail, own_trouble=is_own(error))
        finally:
            self._process = None

    def close(self) -> None:
        """Nothing is kept open."""

    def interrupt(self, *, final: bool = True) -> None:
        """End what another thread waits for; what the program has taken may still go out."""
        self._interrupted = True
        process = self._process
        if process is not None and final:
            _end(process)

    def check(self) -> Delivery:
        """Look for the program; nothing of it can be tried without a mail."""
        program = self._find()
        if program is None:
            return _no_program()
        return Delivery(Outcome.ACCEPTED, BRITISH.say("sendmail.there", program=str(program)))

    def _find(self) -> Path | None:
        if self._program is not None:
            return self._program
        found = shutil.which(PROGRAM, path=f"{os.environ.get('PATH', os.defpath)}:{PLACES}")
        return None if found is None else Path(found)

    def _hand_over(self, process: subprocess.Popen[bytes], message: bytes) -> Delivery:
        if self._interrupted:
            _end(process)
        try:
            _, complaint = process.communicate(message, timeout=self._within_s)
        except subprocess.TimeoutExpired:
            return Delivery(Outcome.UNKNOWN, BRITISH.say("sendmail.late"))
        finally:
            _end(process)
        if process.returncode < 0:
            return Delivery(Outcome.UNKNOWN, BRITISH.say("sendmail.ended"))
        if process.returncode == os.EX_OK:
            return Delivery(Outcome.ACCEPTED, BRITISH.say("sendmail.took"))
        return _refusal(process.returncode, complaint.decode("utf-8", "replace"))


def _end(process: subprocess.Popen[bytes]) -> None:
    """End the program, with all it started, unless it is over; safe in a signal handler."""
    # Once it is waited for, its number may be another's.
    if process.returncode is None:
        with contextlib.suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)


def _no_program() -> Delivery:
    return Delivery(Outcome.LATER, BRITISH.say("sendmail.absent"), settings_problem=True)


def is_kept_from_privileges(status: Path = Path("/proc/self/status")) -> bool:
    """Return whether programs started here get no group of their own (no_new_privs of Linux)."""
    with contextlib.suppress(OSError):
        return "NoNewPrivs:\t1" in status.read_text(encoding="ascii", errors="replace")
    return False


def _refusal(code: int, complaint: str) -> Delivery:
    """Return what a code other than 0 means, with what a server said through the program."""
    found = _REPLY.search(complaint)
    reply = Reply(int(found[1]), found[2]) if found else None
    is_for_good = reply is not None and reply.code >= _REFUSED_FOR_GOOD
    remedy = remedy_for(reply, "", Login.PASSWORD).words if reply and is_for_good else ""
    codes = reply.codes if reply else ""
    said = BRITISH.say(
        "sendmail.refused", code=code, kept=is_kept_from_privileges(), reply=codes, remedy=remedy
    )
    is_about_settings = is_for_good if reply else code not in PASSING_EXITS
    return Delivery(Outcome.LATER, said, settings_problem=is_about_settings, reply=codes)


LIMIT_BYTES = 65_536
"""No password or token is longer."""

PREFIX = "STRAWBELL_"
"""Variables of ours, which may hold secrets, are none of the command's business."""


class SecretCommandError(Exception):
    """There is no secret to be had now; the text is a sentence for the grower."""


class SecretCommand:
    """One run of the command, without a shell, in the daemon's own surroundings."""

    def __init__(self, command: str) -> None:
        """Start it; raise OSError where this machine is at its limits."""
        words = shlex.split(command)
        # What stands in the words may be secret, the name of the program is not.
        self._name = os.path.basename(words[0])  # noqa: PTH119 - a name, no file is touched
        environment = {k: v for k, v in os.environ.items() if not k.startswith(PREFIX)}
        try:
            self._process = subprocess.Popen(  # noqa: S603 - the grower's own command, no shell
                words,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=environment,
                # So that what it starts ends with it.
                start_new_session=True,
            )
        except OSError as error:
            if is_own(error):
                raise
            said = BRITISH.say("secret.not-started", name=self._name, why=error.strerror)
            raise SecretCommandError(said) from None

    def first_line(self, seconds: float) -> str:
        """Return the first line it prints, within a time."""
        with self._process as process:
            try:
                said, _ = process.communicate(timeout=seconds)
            except subprocess.TimeoutExpired:
                late = BRITISH.say("secret.late", name=self._name)
                raise SecretCommandError(late) from None
            finally:
                self.break_off()
        code = process.returncode
        if code:
            raise SecretCommandError(BRITISH.say("secret.code", name=self._name, code=code))
        line = said[:LIMIT_BYTES].split(b"\n", 1)[0].rstrip(b"\r")
        try:
            secret = line.decode("utf-8")
        except UnicodeDecodeError:
            secret = ""
        if not secret:
            raise SecretCommandError(BRITISH.say("secret.none", name=self._name))
        return secret

    def break_off(self) -> None:
        """End it, with all it started; safe to call from a signal handler, and when it is over."""
        _end(self._process)
