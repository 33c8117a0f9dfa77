"""A newcomer at a terminal: waits for a question, types an answer."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import termios
from collections.abc import Mapping, Sequence

PATIENCE_S = 60.0


class Terminal:
    """A program at a terminal of its own."""

    def __init__(
        self, command: Sequence[str], environ: Mapping[str, str], columns: int = 80
    ) -> None:
        self.seen = ""
        self.answers = 0
        self._answered_to = 0
        self._end, inside = pty.openpty()
        fcntl.ioctl(inside, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        self._process = subprocess.Popen(
            command, stdin=inside, stdout=inside, stderr=inside, start_new_session=True,
            env=dict(environ),
        )  # fmt: skip
        os.close(inside)

    def sees(self, pattern: str) -> str:
        """Wait until it stands on the screen below the last answer; return all since then."""
        while not re.search(pattern, self.seen[self._answered_to :]):
            part = self._read()
            assert part, f"ended without {pattern!r}: {self.seen!r}"
            self.seen += part
        return self.seen[self._answered_to :]

    def _read(self) -> str:
        """Return what is printed next, nothing when the process has ended."""
        ready, _, _ = select.select([self._end], [], [], PATIENCE_S)
        assert ready, f"it hangs after {self.seen!r}"
        try:
            return os.read(self._end, 4096).decode()
        except OSError:
            return ""

    def breaks_off(self) -> int:
        """Press Ctrl-C, as often as it takes: between prompt and reading one goes unnoticed."""
        for _ in range(int(PATIENCE_S)):
            self._process.send_signal(signal.SIGINT)
            if select.select([self._end], [], [], 1.0)[0]:
                break
        return self.ends()

    def types(self, text: str) -> None:
        """Type a line."""
        self.answers += 1
        self._answered_to = len(self.seen)
        os.write(self._end, f"{text}\n".encode())

    def ends(self) -> int:
        """Return the exit code, with all that was still printed in `seen`."""
        while part := self._read():
            self.seen += part
        code = self._process.wait(PATIENCE_S)
        os.close(self._end)
        return code
