"""What every store promises, on disk and in memory."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from msgspec.structs import replace

from strawbell.app.ports import CachedAnswer, ClaimedElsewhere
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import Defect
from strawbell.model.journal import EntryKind, JournalEntry
from strawbell.model.notice import NoticeKind, OutboxRow, OutboxState
from support.memory_store import MemoryStore

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
TODAY = date(2027, 4, 9)
SECOND = timedelta(seconds=1)
AnyStore = SqliteStore | MemoryStore


@pytest.fixture(params=["memory", "sqlite"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[AnyStore]:
    if request.param == "memory":
        yield MemoryStore()
        return
    with SqliteStore(tmp_path / "strawbell.db", NOW, owner=True) as opened:
        yield opened


def row(key: str = "k1", **changes: object) -> OutboxRow:
    plain = OutboxRow(
        unique_key=key,
        channel="email",
        recipient="grower@example.org",
        message_id=f"<{key}@strawbell.invalid>",
        body=b"Subject: feed\r\n\r\n500 g\r\n",
        subject="feed",
        garden="Orchard corner",
        local_date=TODAY,
        kind=NoticeKind.MORNING,
        state=OutboxState.DUE,
        attempts=0,
        created_at=NOW,
        next_attempt_at=NOW,
        expires_at=NOW + timedelta(hours=13),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def entry(text: str = "", **changes: object) -> JournalEntry:
    plain = JournalEntry(
        at=NOW, garden="Orchard corner", local_date=TODAY, kind=EntryKind.NOTE, text=text
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def move(store: AnyStore, key: str, state: OutboxState, attempts: int, wait_min: int = 0) -> None:
    store.move(
        key,
        state,
        attempts=attempts,
        next_attempt_at=NOW + timedelta(minutes=wait_min),
        detail="said",
    )


def test_rows_come_back_as_they_were_written(store: AnyStore) -> None:
    """Every field of a journal row survives, also unknown ones and nested data."""
    whole = entry(
        "hot",
        kind=EntryKind.TEMPERATURE,
        batch="Row A",
        task="feed 3",
        state="due",
        value=54.5,
        data={"reasons": [{"code": "freeze", "value": -3.1}], "ahead": None, "long": "x" * 5000},
    )
    bare = entry("")
    store.write([whole, bare])
    assert store.journal("Orchard corner") == (whole, bare)
    assert store.journal("Another") == ()


def test_rows_keep_the_order_of_writing_even_when_the_clock_went_back(store: AnyStore) -> None:
    """Order is that of writing, not that of the clock."""
    store.write([entry("first")])
    store.write([entry("second", at=NOW - timedelta(hours=2))])
    assert [row.text for row in store.journal("Orchard corner")] == ["first", "second"]


def test_a_moment_is_the_same_moment_whatever_its_zone(store: AnyStore) -> None:
    """A moment written with an offset comes back equal."""
    at = datetime(2027, 4, 9, 6, 30, 0, 123456, tzinfo=timezone(timedelta(hours=2)))
    store.write([entry("x", at=at)])
    assert store.journal("Orchard corner")[0].at == at


def test_a_naive_moment_is_refused(store: AnyStore) -> None:
    """A time without a zone could mean anything."""
    with pytest.raises(ValueError, match="time zone"):
        store.write([entry("x", at=datetime(2027, 4, 9, 6, 30))])


def test_together_is_all_or_nothing(store: AnyStore) -> None:
    """An error inside the block leaves neither the journal row nor the message."""

    def fail() -> None:
        with store.together():
            store.write([entry("half")])
            store.enqueue([row()])
            with store.together():
                raise RuntimeError("crash")

    with pytest.raises(RuntimeError):
        fail()
    assert store.journal("Orchard corner") == ()
    assert store.due(NOW, ["email"]) == ()
    with store.together():
        store.write([entry("whole")])
        store.enqueue([row()])
    assert len(store.journal("Orchard corner")) == 1
    assert len(store.due(NOW, ["email"])) == 1


def test_a_key_is_in_the_outbox_once(store: AnyStore) -> None:
    """The second message of a key is dropped and the first stays as it is."""
    assert store.enqueue([row("a"), row("b")]) == 2
    assert store.enqueue([row("a", body=b"other"), row("c")]) == 1
    assert [found.unique_key for found in store.due(NOW, ["email"])] == ["a", "b", "c"]
    assert store.due(NOW, ["email"])[0].body == row().body


def test_a_message_comes_back_byte_for_byte(store: AnyStore) -> None:
    """Any bytes survive."""
    odd = row("odd", body=bytes(range(256)) * 9, detail="ü", subject="Füttern 🌱")
    store.enqueue([odd])
    assert store.due(NOW, ["email"]) == (odd,)


@pytest.mark.parametrize(("offset_s", "found"), [(-1, 0), (0, 1), (1, 1)])
def test_a_message_is_due_from_its_next_attempt_on(
    store: AnyStore, offset_s: int, found: int
) -> None:
    """Just before it is not due, at the moment and after it is."""
    store.enqueue([row()])
    assert len(store.due(NOW + timedelta(seconds=offset_s), ["email"])) == found


@pytest.mark.parametrize(
    ("state", "found"),
    [
        (OutboxState.LATER, 1),
        (OutboxState.UNKNOWN, 1),
        (OutboxState.SENDING, 1),
        (OutboxState.ACCEPTED, 0),
        (OutboxState.FOR_GOOD, 0),
        (OutboxState.EXPIRED, 0),
    ],
)
def test_open_messages_are_due_and_finished_ones_are_not(
    store: AnyStore, state: OutboxState, found: int
) -> None:
    """A row left in sending by a crash is handed out again; an end is an end."""
    store.enqueue([row()])
    move(store, "k1", OutboxState.SENDING, 1)
    if state is not OutboxState.SENDING:
        move(store, "k1", state, 1)
    due = store.due(NOW, ["email"])
    assert len(due) == found
    if due:
        assert (due[0].state, due[0].attempts, due[0].detail) == (state, 1, "said")


def test_only_the_asked_channels_are_due(store: AnyStore) -> None:
    """A channel that is not configured any more is left alone."""
    store.enqueue([row("a"), row("b", channel="desktop"), row("c", channel="folder")])
    assert {found.unique_key for found in store.due(NOW, ["desktop", "folder"])} == {"b", "c"}
    assert store.due(NOW, []) == ()


def test_an_attempt_written_under_a_wrong_clock_does_not_wait_for_years(store: AnyStore) -> None:
    """After the clock came back from the future, the message is due at once."""
    store.enqueue([row()])
    move(store, "k1", OutboxState.SENDING, 1)
    move(store, "k1", OutboxState.LATER, 1, wait_min=60 * 24 * 365)
    assert len(store.due(NOW, ["email"])) == 1


def test_a_message_can_be_claimed_once(store: AnyStore) -> None:
    """Who claims from an outdated view of the row is turned away."""
    store.enqueue([row()])
    move(store, "k1", OutboxState.SENDING, 1)
    with pytest.raises(ClaimedElsewhere):
        move(store, "k1", OutboxState.SENDING, 1)
    with pytest.raises(ClaimedElsewhere):
        move(store, "nobody", OutboxState.SENDING, 1)


def test_an_end_is_final(store: AnyStore) -> None:
    """An accepted message never becomes anything else."""
    store.enqueue([row()])
    move(store, "k1", OutboxState.ACCEPTED, 1)
    with pytest.raises(Defect):
        move(store, "k1", OutboxState.LATER, 1)
    with pytest.raises(Defect):
        move(store, "nobody", OutboxState.LATER, 1)


def test_failures_wait_until_somebody_was_told(store: AnyStore) -> None:
    """Refused and expired messages are listed until they are marked."""
    store.enqueue([row("a"), row("b"), row("c")])
    move(store, "a", OutboxState.FOR_GOOD, 1)
    move(store, "b", OutboxState.EXPIRED, 1)
    move(store, "c", OutboxState.ACCEPTED, 1)
    assert [found.unique_key for found in store.unsurfaced()] == ["a", "b"]
    store.mark_surfaced(["a"])
    assert [found.unique_key for found in store.unsurfaced()] == ["b"]
    assert store.outbox("Orchard corner", TODAY)[0].surfaced


def test_the_outbox_is_listed_from_a_date_on(store: AnyStore) -> None:
    """Rows of a garden, oldest first, from the date itself on."""
    store.enqueue([row("a", local_date=TODAY - timedelta(days=1)), row("b"), row("c", garden="X")])
    assert [found.unique_key for found in store.outbox("Orchard corner", TODAY)] == ["b"]
    assert len(store.outbox("Orchard corner", TODAY - timedelta(days=1))) == 2


def test_the_rows_of_one_date_are_read_alone(store: AnyStore) -> None:
    """Of a garden, oldest first."""
    before = replace(entry("before"), local_date=TODAY - timedelta(days=1))
    store.write([before, entry("first"), entry("elsewhere", garden="X"), entry("second")])
    assert [row.text for row in store.journal("Orchard corner", TODAY)] == ["first", "second"]
    assert [row.text for row in store.journal("Orchard corner", before.local_date)] == ["before"]


def test_the_planner_reads_on_from_where_it_was(store: AnyStore) -> None:
    """Rows of its garden written since, without what became of messages, which it never needs."""
    store.write([entry("first"), entry("elsewhere", garden="X"), entry("second")])
    rows, last = store.planners_rows("Orchard corner", 0)
    assert [row.text for row in rows] == ["first", "second"]
    assert store.planners_rows("Orchard corner", last) == ((), last)
    store.write([entry("sent", kind=EntryKind.DELIVERY), entry("elsewhere", garden="X")])
    assert store.planners_rows("Orchard corner", last)[0] == ()
    store.write([entry("third")])
    assert [row.text for row in store.planners_rows("Orchard corner", last)[0]] == ["third"]


def test_due_messages_beyond_the_first_lot_come_when_asked_again(store: AnyStore) -> None:
    """However many wait, each is handed out once those before it are seen to."""
    waiting = [row(f"k{number}", created_at=NOW + number * SECOND) for number in range(250)]
    store.enqueue(waiting)
    found: list[str] = []
    while due := store.due(NOW, ("email",)):
        found += [each.unique_key for each in due]
        for each in due:
            store.move(
                each.unique_key,
                OutboxState.EXPIRED,
                attempts=0,
                next_attempt_at=NOW,
                detail="",
            )
    assert found == [each.unique_key for each in waiting]


def test_the_last_answer_of_an_address_is_kept(store: AnyStore) -> None:
    """The body comes back byte for byte and a later answer takes its place."""
    first = CachedAnswer("https://x/?a=1", '"e"', None, None, NOW, b"{}" * 4000)
    second = replace(first, etag=None, last_modified="then", expires_at=NOW, body=b"")
    assert store.load(first.url) is None
    store.keep(first)
    assert store.load(first.url) == first
    store.keep(second)
    assert store.load(first.url) == second


def test_threads_take_turns(store: AnyStore) -> None:
    """Blocks of several threads do not get into each other's transactions."""

    def work(name: str) -> None:
        for number in range(10):
            with store.together():
                store.write([entry(f"{name}{number}")])
                store.enqueue([row(f"{name}{number}")])

    threads = [threading.Thread(target=work, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    texts = [found.text for found in store.journal("Orchard corner")]
    assert len(texts) == 40
    assert len(store.due(NOW, ["email"])) == 40
    assert [text for text in texts if text.startswith("a")] == [f"a{n}" for n in range(10)]


def test_odd_text_does_not_stop_the_store(store: AnyStore) -> None:
    """NUL, lone surrogates and line separators are text like any other."""
    store.write([entry("a\0b\u2028c\ud800d")])
    assert store.journal("Orchard corner")[0].text.startswith("a\0b\u2028c")


def test_a_mark_is_kept_until_it_is_replaced(store: AnyStore) -> None:
    """With the block that sets it, or not at all."""
    assert store.mark("ear inbox") == ""
    store.set_mark("ear inbox", "7:1")
    store.set_mark("ear inbox", "7:2")
    with contextlib.suppress(RuntimeError), store.together():
        store.set_mark("ear inbox", "7:3")
        raise RuntimeError
    assert store.mark("ear inbox") == "7:2"
    assert store.mark("ear push") == ""


def test_what_was_laid_by_is_the_last_that_was_for_that_garden(store: AnyStore) -> None:
    assert store.checkpoint("Orchard corner") is None
    for last, content in ((3, b"old"), (9, b"new")):
        store.save_checkpoint("Orchard corner", last, content)
    assert store.checkpoint("Orchard corner") == (9, b"new")
    assert store.checkpoint("Elsewhere") is None


def test_what_is_laid_by_is_undone_with_the_rest_of_its_block(store: AnyStore) -> None:
    store.save_checkpoint("Orchard corner", 3, b"old")
    with contextlib.suppress(ZeroDivisionError), store.together():
        store.save_checkpoint("Orchard corner", 9, b"new")
        _ = 1 / 0
    assert store.checkpoint("Orchard corner") == (3, b"old")
