"""`strawbell reload`: the daemon reads its configuration anew, and says whether it took it."""

from __future__ import annotations

import argparse
import os

from strawbell.cli.reach import asked
from strawbell.cli.run import RELOADED_WITHIN_S
from strawbell.config.places import config_path
from strawbell.edges.door import NobodyThere
from strawbell.errors import OperationalError
from strawbell.words.catalogue import BRITISH

ANSWER_WITHIN_S = RELOADED_WITHIN_S + 10.0
"""The daemon gives up first, in words [s]."""


def run(options: argparse.Namespace) -> int:
    """Ask for it; mistakes are those that the daemon found, the old configuration stays then."""
    path = config_path(options.config, os.environ)
    try:
        *_, last = asked(path, {"ask": "reload"}, ANSWER_WITHIN_S)
    except NobodyThere:
        raise OperationalError(BRITISH.say("reach.no-daemon", path=str(path))) from None
    gardens = last.get("gardens")
    names = BRITISH.listing(map(str, gardens)) if isinstance(gardens, list) else ""
    print(BRITISH.say("reach.reloaded", names=names))
    return 0
