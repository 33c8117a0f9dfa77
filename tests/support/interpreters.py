"""Every Python that Strawbell supports and this machine has, with the libraries of a message."""

from __future__ import annotations

import os
import subprocess
import sys
from functools import lru_cache
from pathlib import Path

import pytest

from support.checkout import ROOT

SUPPORTED = ("3.11", "3.12", "3.13")

_SAY = "import sys, babel, jinja2, msgspec; print(sys.executable)"
"""The last one is compiled for one version: that of this interpreter serves no other."""


@lru_cache(maxsize=8)
def interpreter(version: str) -> str:
    """Return an interpreter of a version that has the libraries, or skip the test.

    `STRAWBELL_PYTHON_3_12` and the like name one; else the one on the path is asked.
    """
    if version == f"{sys.version_info.major}.{sys.version_info.minor}":
        return sys.executable
    named = os.environ.get(f"STRAWBELL_PYTHON_{version.replace('.', '_')}")
    try:
        done = subprocess.run(
            [named or f"python{version}", "-c", _SAY],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
            env=_every_version(),
        )
    except OSError:
        done = None
    if done is None or done.returncode != 0:
        assert not named, f"{named} does not run, or lacks babel, jinja2 or msgspec"
        pytest.skip(f"no Python {version} with babel, jinja2 and msgspec is installed here")
    return done.stdout.strip()


def run_under(version: str, program: Path, *arguments: str) -> str:
    """Run a program of the tests by this checkout's source; return its words."""
    done = subprocess.run(
        [interpreter(version), str(program), *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join((str(ROOT / "daemon"), str(ROOT / "tests"))),
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
