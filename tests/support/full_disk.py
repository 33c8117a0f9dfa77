"""What a store and a daemon do on a full disk; prints what became of it as JSON.

As a program: `full_disk.py store FOLDER` works on a store by hand, and fills the disk of the
folder at every stage of a message's life; `full_disk.py daemon-start|daemon-running FOLDER` runs
the real daemon with its store in FOLDER/state, which lies on that disk.
"""

from __future__ import annotations

import json
import os
import random
import sqlite3
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from strawbell.app.outbox import Sender
from strawbell.edges.machine import SystemClock
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import OperationalError
from strawbell.model.notice import Delivery, Notice, NoticeKind, OutboxRow, OutboxState, Outcome
from support.daemon_process import Setup, seconds_until, stop
from support.scripted_smtp import ScriptedSmtp
from support.small_disk import fill_up, make_room

NOW = datetime.now(UTC)
PATIENCE_S = 150.0
QUIET_S = 40.0
"""How long a disk stays full after the alarm, to see that it comes once."""
BODY_BYTES = 1500
TRIES = 40


class Channel:
    """Accepts everything; can fill the disk while the server accepts."""

    name, recipients = "email", ("g",)

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.sent: list[str] = []
        self.fills = False

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        raise NotImplementedError

    def send(self, row: OutboxRow) -> Delivery:
        self.sent.append(row.unique_key)
        if self.fills:
            fill_up(self.folder)
        return Delivery(Outcome.ACCEPTED)

    def close(self) -> None:
        pass


def message(key: str) -> OutboxRow:
    body = random.Random(key).randbytes(BODY_BYTES)
    return OutboxRow(
        key, "email", "g", f"<{key}>", body, "s", "G", NOW.date(), NoticeKind.MORNING,
        OutboxState.DUE, 0, NOW, NOW, NOW + timedelta(days=1),
    )  # fmt: skip


def begin_on_a_full_disk(path: Path) -> tuple[int, int]:
    """Open a store that is new, and one that has rows, on a full disk; return refusals, losses."""
    refused = lost = 0
    for name in ("new", "used"):
        place = path.with_name(f"{name}.db")
        if name == "used":
            with SqliteStore(place, NOW, owner=True) as store:
                store.enqueue([message("kept")])
        fill_up(path.parent)
        try:
            SqliteStore(place, NOW, owner=True).close()
        except OperationalError as error:
            assert str(path.parent) in str(error)
            refused += 1
        make_room(path.parent)
        with SqliteStore(place, NOW, owner=True) as store:
            assert store.incident == "", store.incident
            lost += int(name == "used" and len(store.outbox("G", NOW.date())) != 1)
        # Its room is needed: the smallest disk has to hold the copy of the store looked at next.
        for left in place.parent.glob(f"{place.name}*"):
            left.unlink()
    return refused, lost


def write_on_a_full_disk(store: SqliteStore, folder: Path) -> int:
    """Queue until the disk takes no more; return how many were refused, each in a sentence."""
    fill_up(folder)
    refused = 0
    for number in range(TRIES):
        try:
            store.enqueue([message(f"full{number}")])
        except OperationalError as error:
            assert str(folder) in str(error)
            refused += 1
    return refused


def fold_in_on_a_full_disk(store: SqliteStore, folder: Path) -> tuple[int, int]:
    """Fill the disk before a checkpoint; return how many rows it kept for later, and lost."""
    rows = [f"folded{number}" for number in range(20)]
    with store.together():
        store.enqueue([message(key) for key in rows])
    fill_up(folder)
    try:
        store._connection.execute("PRAGMA wal_checkpoint(PASSIVE)")
        held_back = 0
    except sqlite3.OperationalError:
        # The file itself has no room to grow; the rows stay where they are.
        held_back = 1
    there = {row.unique_key for row in store.outbox("G", NOW.date())}
    make_room(folder)
    return held_back, len(set(rows) - there)


def work_on_a_store(folder: Path) -> dict[str, object]:
    """Fill the disk before the start, while queueing, folding in, claiming and recording."""
    begun, lost = begin_on_a_full_disk(folder / "strawbell.db")
    store = SqliteStore(folder / "strawbell.db", NOW, owner=True)
    channel, sender = Channel(folder), Sender(SystemClock(), random.Random(1))
    refused = write_on_a_full_disk(store, folder)
    # What cannot be claimed is not sent.
    report = sender.deliver_due(store, channel)
    unclaimed = len(channel.sent) - report.count(OutboxState.ACCEPTED)
    make_room(folder)
    sender.deliver_due(store, channel)
    held_back, lost_folding = fold_in_on_a_full_disk(store, folder)
    sender.deliver_due(store, channel)
    # Full while the server accepts: not sent again when there is room.
    store.enqueue([message(f"later{number}") for number in range(20)])
    channel.fills = True
    for _ in range(3):
        sender.deliver_due(store, channel)
    channel.fills = False
    make_room(folder)
    for _ in range(2):
        report = sender.deliver_due(store, channel)
        assert report.trouble == "", report.trouble
    rows = store.outbox("G", NOW.date())
    store.backup(NOW)
    store.close()
    SqliteStore(folder / "strawbell.db", NOW, owner=True).close()
    keys = {row.unique_key for row in rows}
    return {
        "starts refused": begun,
        "refused": refused,
        "fold-ins held back": held_back,
        "messages": len(rows),
        "unaccepted": sum(row.state is not OutboxState.ACCEPTED for row in rows),
        "lost": lost + lost_folding + len(keys - set(channel.sent)),
        "doubled": len(channel.sent) - len(set(channel.sent)),
        "unrecorded": unclaimed + len(set(channel.sent) - keys),
    }


def subjects(server: ScriptedSmtp) -> list[str]:
    """Return the subjects of what the server accepted, unfolded."""
    found = []
    for one in server.messages:
        head = one.body.decode().replace("\r\n ", " ").split("\r\n\r\n")[0]
        found += [line for line in head.split("\r\n") if line.startswith("Subject:")]
    return found


def live_on_a_disk(folder: Path, *, full_at_start: bool) -> dict[str, object]:
    """Run the daemon; its mail server is away at first where the disk fills up later."""
    state = folder / "state"
    with ScriptedSmtp() as server:
        setup = Setup(folder, smtp_port=server.port)
        if full_at_start:
            noted = setup.command("record", "temperature", "21C", "--batch", "Row A")
            assert noted.returncode == 0, noted.stderr
            fill_up(state)
        else:
            server.faults = {"mail": "451"}
        daemon = setup.start()
        if not full_at_start:
            seconds_until(lambda: server.connections > 0, PATIENCE_S)
            time.sleep(2)
            fill_up(state)
            server.faults = {}
            # The next attempt is a minute away; only then is something refused.
        told_s = seconds_until(lambda: "store" in " ".join(subjects(server)), PATIENCE_S)
        time.sleep(QUIET_S)
        while_full = subjects(server)
        make_room(state)
        again_s = seconds_until(
            lambda: any("feed" in line for line in subjects(server)), PATIENCE_S
        )
        time.sleep(2)
        everything = subjects(server)
        is_up = daemon.poll() is None
        code, said = stop(daemon)
    return {
        "told after s": told_s,
        "sent after s": again_s,
        "told while full": while_full,
        "told": everything,
        "is up": is_up,
        "code": code,
        "said": said,
    }


if __name__ == "__main__":
    case, place = sys.argv[1], Path(sys.argv[2])
    os.environ.pop("NOTIFY_SOCKET", None)
    if case == "store":
        print(json.dumps(work_on_a_store(place)))
    else:
        print(json.dumps(live_on_a_disk(place, full_at_start=case == "daemon-start")))
