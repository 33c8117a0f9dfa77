"""What a piece of work costs: instructions where they can be counted, else time of the processor.

Instructions are the same on a busy machine and on a quiet one, and a yardstick of additions is not:
what else runs on the machine slows it down less than code that allocates.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

COUNTER = shutil.which("valgrind")
UNIT = "instructions" if COUNTER else "seconds of processor time"
ROUNDS_OF_TIME = 5
"""The least of so many runs counts where only time can be taken."""
_COUNTED = re.compile(r"I\s+refs:\s+([\d,]+)")


def cost_of(line: Sequence[str | os.PathLike[str]]) -> float:
    """Return what a whole process costs, in `UNIT`; both ends of a ratio are to come from here."""
    environ = {**os.environ, "PYTHONHASHSEED": "0"}
    if COUNTER is None:
        return min(_seconds(line, environ) for _ in range(ROUNDS_OF_TIME))
    tool = ("--tool=cachegrind", "--cache-sim=no", "--cachegrind-out-file=/dev/null")
    ran = subprocess.run(
        [COUNTER, *tool, *line], env=environ, capture_output=True, text=True, check=True
    )
    counted = _COUNTED.search(ran.stderr)
    assert counted is not None, ran.stderr[-500:]
    return float(counted[1].replace(",", ""))


def cost_of_round(program: Path, *arguments: str, rounds: int = 20) -> float:
    """Return what one round of a program costs that is told last how many rounds to go."""
    line = (sys.executable, program, *arguments)
    return (cost_of((*line, str(rounds + 1))) - cost_of((*line, "1"))) / rounds


def _seconds(line: Sequence[str | os.PathLike[str]], environ: dict[str, str]) -> float:
    before = os.times()
    subprocess.run(line, env=environ, stdout=subprocess.DEVNULL, check=True)
    after = os.times()
    return (
        after.children_user + after.children_system - before.children_user - before.children_system
    )
