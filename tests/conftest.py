"""A state folder of the run's own, and no clock on what Hypothesis tries."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

# Of itself each example has 200 ms, which a busy machine exceeds whatever the code does.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(scope="session", autouse=True)
def own_state() -> Iterator[None]:
    """Lead what the program keeps by default into a folder that is gone after the run."""
    folder = tempfile.mkdtemp(prefix="strawbell-tests-")
    before = os.environ.get("XDG_STATE_HOME")
    os.environ["XDG_STATE_HOME"] = folder
    yield
    if before is None:
        del os.environ["XDG_STATE_HOME"]
    else:
        os.environ["XDG_STATE_HOME"] = before
    shutil.rmtree(folder, ignore_errors=True)
