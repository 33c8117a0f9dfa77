"""A state folder of the run's own, and properties that come out the same in every run."""

from __future__ import annotations

import os
import shutil
import signal
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

# Of itself each example has 200 ms, which a busy machine exceeds whatever the code does. The same
# examples are tried in every run of each change; `--hypothesis-profile nightly` looks for others.
settings.register_profile("each change", deadline=None, derandomize=True)
settings.register_profile("nightly", deadline=None, max_examples=1000)
settings.load_profile("each change")

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # A run in the background of a shell would hand on that Ctrl-C is passed over.
    signal.signal(signal.SIGINT, signal.default_int_handler)


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
