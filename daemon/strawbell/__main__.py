"""The entry point: mind signals, answer `--version` at once, import the rest only when needed."""

from __future__ import annotations

import sys

BROKEN_OFF_BY_HAND = 130
"""What shells tell of a command that Ctrl-C broke off (common practice)."""


def main() -> int:
    """Run the command line and return its exit code."""
    try:
        return _main(sys.argv[1:])
    except KeyboardInterrupt:  # before the signals are taken, or while an error is being told
        return BROKEN_OFF_BY_HAND


def _main(arguments: list[str]) -> int:
    from strawbell.cli import early_signals

    early_signals.take(arguments)
    if arguments == ["--version"]:
        from strawbell import __version__

        print(f"strawbell {__version__}")  # noqa: T201
        return 0
    from strawbell.cli.main import run

    code = run(arguments)
    early_signals.let_go()
    return code


if __name__ == "__main__":
    sys.exit(main())
