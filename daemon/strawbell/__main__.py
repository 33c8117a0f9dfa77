"""The entry point: answer `--version` at once, import everything else only when needed."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the command line and return its exit code."""
    if sys.argv[1:] == ["--version"]:
        from strawbell import __version__

        print(f"strawbell {__version__}")  # noqa: T201
        return 0
    from strawbell.cli.main import run

    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
