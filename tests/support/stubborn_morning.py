"""The same morning by a process that lives on: `stubborn_morning.py STATE_FILE PORT`.

As the daemon does, it says what failed and tries again later, hours apart on a clock of its own.
It ends with 0 when everything is delivered, and with 1 when its last pass still met trouble.
"""

from __future__ import annotations

import random
import sys
from datetime import timedelta
from pathlib import Path

from strawbell.app.outbox import Memory, Sender
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import StrawbellError
from strawbell.words.catalogue import BRITISH, messages
from support.morning import BEGINS, CREATED, At, decide, mail_to

PASSES = 4
HOURS_BETWEEN = 3


def say(sentence: str) -> None:
    """Tell the log; a log that is full as well must not end the day."""
    try:
        print(sentence, file=sys.stderr, flush=True)
    except OSError:
        return


def live(path: Path, port: int) -> int:
    """Take every pass; return 1 when the last one met trouble."""
    channel, memory, store, trouble = mail_to(port), Memory(), None, False
    for number in range(PASSES):
        now = CREATED + timedelta(minutes=1, hours=HOURS_BETWEEN * number)
        trouble = False
        try:
            store = store or SqliteStore(path, now, owner=True)
            decide(store, channel, now)
            report = Sender(At(now), random.Random(1), memory).deliver_due(store, channel)
            told = [*filter(None, [report.trouble]), *(each.detail for each in report.results)]
            trouble = bool(report.trouble)
        except StrawbellError as error:
            told, trouble = [str(error)], True
        for sentence in told:
            say(f"pass {number}: {sentence}")
    try:
        if store is not None:
            store.close()
    except StrawbellError as error:
        say(str(error))
    return int(trouble)


if __name__ == "__main__":
    messages(BRITISH.locale)  # as the daemon does, whose first word is that it runs
    Path(BEGINS).exists()
    sys.exit(live(Path(sys.argv[1]), int(sys.argv[2])))
