"""A command of the grower's that prints a password or an access token.

Neither what it prints nor what it complains of is ever shown: both may be secret.
"""

from __future__ import annotations

import contextlib
import os
import shlex
import signal
import subprocess

from strawbell.edges.own_trouble import is_own

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
            why = error.strerror or "it cannot be started"
            raise SecretCommandError(f"The command {self._name} gave no secret: {why}.") from None

    def first_line(self, seconds: float) -> str:
        """Return the first line it prints, within a time."""
        with self._process as process:
            try:
                said, _ = process.communicate(timeout=seconds)
            except subprocess.TimeoutExpired:
                raise SecretCommandError(
                    f"The command {self._name} did not end in time; it may wait for a passphrase."
                ) from None
            finally:
                self.break_off()
        code = process.returncode
        if code:
            raise SecretCommandError(f"The command {self._name} ended with code {code}.")
        line = said[:LIMIT_BYTES].split(b"\n", 1)[0].rstrip(b"\r")
        try:
            secret = line.decode("utf-8")
        except UnicodeDecodeError:
            secret = ""
        if not secret:
            raise SecretCommandError(f"The command {self._name} printed no secret.")
        return secret

    def break_off(self) -> None:
        """End it, with all it started; safe to call from a signal handler, and when it is over."""
        # Once it is waited for, its number may be another's.
        if self._process.returncode is None:
            with contextlib.suppress(OSError):
                os.killpg(self._process.pid, signal.SIGKILL)
