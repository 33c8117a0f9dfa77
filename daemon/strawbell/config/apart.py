"""Read the configuration in a process of its own.

The libraries that check a configuration take more memory than all of an idle daemon; in a
process of their own they are gone when they have done their work. The answer comes back as plain
values over a pipe that only the two processes see.
"""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
from pathlib import Path

from strawbell.errors import Defect, GrowerError, OperationalError
from strawbell.model.configuration import Configuration

READ_WITHIN_S = 300.0
"""A slow board needs seconds, thousands of gardens minutes; longer means that it hangs [s]."""


def read_apart(path: Path | None) -> Configuration:
    """Return the checked configuration; raise `GrowerError` with every mistake in it."""
    try:
        child = subprocess.run(  # noqa: S603 - our own module, no shell
            [sys.executable, "-m", "strawbell.config.apart", str(path or "")],
            stdout=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
            timeout=READ_WITHIN_S,
            # Ctrl-C is for us; we end the child.
            start_new_session=True,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise OperationalError(
            f"The configuration could not be read within {READ_WITHIN_S:.0f} s."
        ) from error
    if child.returncode != 0:
        raise Defect(f"reading the configuration ended with code {child.returncode}")
    answer = pickle.loads(child.stdout)  # noqa: S301 - written by our own child just now
    if isinstance(answer, Configuration):
        return answer
    raise GrowerError(answer)


def main(arguments: list[str]) -> int:
    """Write the configuration, or the problems in it, to the pipe."""
    from strawbell.config.plain import read_plain

    path = Path(arguments[0]) if arguments and arguments[0] else None
    answer: object
    try:
        answer = read_plain(path, os.environ)
    except GrowerError as error:
        answer = error.problems
    sys.stdout.buffer.write(pickle.dumps(answer))
    return 0


if __name__ == "__main__":
    # Who asked may have been stopped meanwhile; then nobody wants the answer, nor a traceback.
    signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    sys.exit(main(sys.argv[1:]))
