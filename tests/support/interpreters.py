"""Every Python that Strawbell supports and this machine has."""

from __future__ import annotations

import os
import subprocess
import sys
from functools import lru_cache
from pathlib import Path

import jinja2
import markupsafe
import pytest
import tzdata

from support.checkout import ROOT

SUPPORTED = ("3.11", "3.12", "3.13")

_SAY = "import sys; print(sys.executable)"


@lru_cache(maxsize=8)
def interpreter(version: str) -> str:
    """Return the interpreter of a version, or skip the test."""
    if version == f"{sys.version_info.major}.{sys.version_info.minor}":
        return sys.executable
    try:
        done = subprocess.run(
            [f"python{version}", "-c", _SAY],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
            env=_every_version(),
        )
    except OSError:
        done = None
    if done is None or done.returncode != 0:
        pytest.skip(f"Python {version} is not installed here")
    return done.stdout.strip()


def run_under(version: str, program: Path, *arguments: str) -> str:
    """Run a program of the tests with nothing installed but what is pure Python; return its words.

    The libraries that the wording needs are taken from where this interpreter has them.
    """
    places = [ROOT / "daemon", ROOT / "tests"]
    places += [Path(library.__path__[0]).parent for library in (jinja2, markupsafe, tzdata)]
    done = subprocess.run(
        [interpreter(version), str(program), *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join(dict.fromkeys(map(str, places))),
            "PYTHONDONTWRITEBYTECODE": "1",
        },
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def _every_version() -> dict[str, str]:
    """Let a version manager that is on the path offer every version it has."""
    try:
        done = subprocess.run(
            ["pyenv", "versions", "--bare"],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
    except OSError:
        return dict(os.environ)
    return {**os.environ, "PYENV_VERSION": ":".join(done.stdout.split())}
