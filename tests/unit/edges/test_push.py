"""Notices to a phone, against a server that does well or badly."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from strawbell.app.answering import Answering
from strawbell.app.outbox import queue
from strawbell.app.pipeline import Pipeline
from strawbell.app.ports import Reply, Unheard
from strawbell.edges.push import MESSAGE_BYTES, PushChannel
from strawbell.model.configuration import PushSettings
from strawbell.model.journal import EntryKind
from strawbell.model.notice import Asking, Delivery, NoticeKind, Outcome, Silence
from support.answered import Answered
from support.fake_clock import DAWN, sender
from support.gardens import ZONE, at
from support.notices import SECRET, notice
from support.push_server import PushServer, push_server

TOPIC = "bales-5d81c0aa47e2"
SHORT_S = 0.5
ASKING = Asking(Silence.DONE, ("done", "not today", "later", "how"), "Feed", ("row-a-5-feed",))


@pytest.fixture
def server() -> Iterator[PushServer]:
    with push_server() as board:
        yield board


def channel(server: PushServer, **changes: object) -> PushChannel:
    settings = PushSettings(**{"url": server.url, "topic": TOPIC, **changes})  # type: ignore[arg-type]
    return PushChannel(settings, patience_s=SHORT_S)


def send(push: PushChannel, **changes: object) -> Delivery:
    (row,) = queue(notice(asking=ASKING, **changes), [push], DAWN, SECRET)
    return push.send(row)


def test_a_notice_is_published_with_its_buttons(server: PushServer) -> None:
    """Three at most, the likeliest first; each posts a word and the token to the other topic."""
    assert send(channel(server)).outcome is Outcome.ACCEPTED
    (shown,) = server.shown(TOPIC).values()
    assert shown["title"] == "Feed Row A"
    assert "No reply means done." in shown["message"]
    assert [each["label"] for each in shown["actions"]] == ["Done", "Not today", "Later"]
    assert all("headers" not in each for each in shown["actions"])
    server.press(shown, "Not today")
    (pressed,) = channel(server).gather("", DAWN).arrivals
    assert isinstance(pressed, Reply)
    assert (pressed.sender, pressed.lines) == (None, ("not today",))


def test_a_button_carries_only_the_token_that_can_do_nothing_else(server: PushServer) -> None:
    """The other one opens everything, and stays here."""
    server.token = "tk_all"
    push = channel(server, token="tk_all", answer_token="tk_answers")
    assert send(push).outcome is Outcome.ACCEPTED
    (shown,) = server.shown(TOPIC).values()
    assert shown["actions"][0]["headers"] == {"Authorization": "Bearer tk_answers"}
    assert "tk_all" not in json.dumps(shown)
    assert "tk_all" not in repr(push)


@pytest.mark.parametrize(
    ("kind", "priority"),
    [
        (NoticeKind.CHANGE, 4),
        (NoticeKind.EVENING, 4),
        (NoticeKind.TROUBLE, 4),
        (NoticeKind.MORNING, 3),
        (NoticeKind.ALL_CLEAR, 2),
    ],
)
def test_what_is_urgent_rings_aloud(server: PushServer, kind: NoticeKind, priority: int) -> None:
    """An ordinary morning does not."""
    send(channel(server), kind=kind)
    (shown,) = server.shown(TOPIC).values()
    assert shown["priority"] == priority


def test_a_later_notice_replaces_the_earlier_and_an_answered_one_goes(server: PushServer) -> None:
    """By its sequence id; a server that knows none shows both, and no harm is done."""
    push = channel(server)
    for occasion in ("", "again"):
        send(push, occasion=occasion)
    (shown,) = server.shown(TOPIC).values()
    server.press(shown, "Done")
    push.gather("", DAWN)
    assert server.shown(TOPIC) == {}
    server.mood = "old"
    for occasion in ("", "again"):
        assert send(push, occasion=occasion).outcome is Outcome.ACCEPTED
    assert len(server.shown(TOPIC)) == 2
    server.press(next(iter(server.shown(TOPIC).values())), "Done")
    assert len(push.gather("", DAWN).arrivals) == 2


@pytest.mark.parametrize(
    ("mood", "outcome", "settings"),
    [
        (401, Outcome.LATER, True),
        (403, Outcome.LATER, True),
        (404, Outcome.LATER, True),
        (302, Outcome.LATER, True),
        (429, Outcome.LATER, False),
        (500, Outcome.LATER, False),
        (507, Outcome.LATER, False),
        (400, Outcome.FOR_GOOD, False),
        (413, Outcome.FOR_GOOD, False),
        ("portal", Outcome.LATER, False),
        ("silent", Outcome.UNKNOWN, False),
    ],
)
def test_each_refusal_has_its_class(
    server: PushServer, mood: str | int, outcome: Outcome, settings: bool
) -> None:
    """For later, for good, unknown; and whether the grower has to mend it."""
    server.mood = mood
    delivery = send(channel(server))
    assert (delivery.outcome, delivery.settings_problem) == (outcome, settings), delivery.detail
    assert delivery.detail.endswith(".")


def test_a_server_that_is_not_there_is_for_later() -> None:
    """Nothing was handed over."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{held.getsockname()[1]}"
        assert send(PushChannel(PushSettings(url, TOPIC))).outcome is Outcome.LATER


def test_a_server_that_says_nothing_ends_at_the_limit() -> None:
    """It may have the notice, so that is unknown."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        url = f"http://127.0.0.1:{held.getsockname()[1]}"
        push = PushChannel(PushSettings(url, TOPIC), patience_s=SHORT_S)
        assert send(push).outcome is Outcome.UNKNOWN
        with pytest.raises(Unheard, match="in time"):
            push.gather("", DAWN)


def test_a_message_stays_under_the_limit_whatever_it_says(server: PushServer) -> None:
    """Cut between characters."""
    assert send(channel(server), short="\U0001f331" * 5000).outcome is Outcome.ACCEPTED
    (shown,) = server.shown(TOPIC).values()
    assert len(shown["message"].encode()) <= MESSAGE_BYTES


def test_answers_are_asked_for_from_the_last_one_on(server: PushServer) -> None:
    """A mark that the server has forgotten brings all again, a cut line ends the list."""
    push = channel(server)
    send(push)
    (shown,) = server.shown(TOPIC).values()
    server.press(shown, "Done")
    first = push.gather("", DAWN)
    server.press(shown, "Not today")
    assert len(push.gather(first.mark, DAWN).arrivals) == 1
    assert len(push.gather("forgotten", DAWN).arrivals) == 2
    server.mood = "cut"
    assert len(push.gather("", DAWN).arrivals) <= 2


@pytest.mark.parametrize(
    "message", ["hello", "done", "done abc", "done " + "A" * 20, "\u202edone " + "A" * 20 + " x"]
)
def test_what_is_no_button_of_ours_is_left_alone(server: PushServer, message: str) -> None:
    """Anybody may write to a topic."""
    server.add(f"{TOPIC}-answers", message=message)
    gathered = channel(server).gather("", DAWN)
    assert gathered.arrivals == ()
    assert gathered.mark


@pytest.mark.parametrize(("mood", "settings"), [(403, True), (429, False), (500, False)])
def test_answers_that_cannot_be_read_are_told_of(
    server: PushServer, mood: int, settings: bool
) -> None:
    """And whether it is for the grower to mend."""
    server.mood = mood
    with pytest.raises(Unheard) as met:
        channel(server).gather("", DAWN)
    assert met.value.settings_problem is settings


def test_without_a_topic_a_notice_is_posted_as_it_is(server: PushServer) -> None:
    """As JSON to the address itself; any answer of success will do, and nothing is asked for."""
    push = channel(server, url=f"{server.url}/hook", topic=None, token="tk")
    (row,) = queue(notice(asking=ASKING), [push], DAWN, SECRET)
    assert push.send(row).outcome is Outcome.ACCEPTED
    said = json.loads(row.body)
    assert (said["title"], said["kind"], said["id"]) == ("Feed Row A", "morning", row.message_id)
    ((method, path, headers),) = server.heard
    assert (method, path, headers["Authorization"]) == ("POST", "/hook", "Bearer tk")
    assert push.gather("", DAWN).arrivals == ()
    assert "No reply means" in said["message"]


def test_a_morning_is_answered_by_a_button_of_the_phone(server: PushServer) -> None:
    """From the plan to the journal: pressed twice it counts once, a wrong token counts nothing."""
    today = datetime.now(ZoneInfo(ZONE)).date()
    days, push = Answered(start=today), channel(server)
    pipeline = Pipeline(
        (days.plan,), days.store, (push,), lambda _, now: (days.weather(now), ()), sender()
    )
    pipeline.tick(at(today, 8))
    (row,) = days.rows()
    assert push.send(row).outcome is Outcome.ACCEPTED
    (shown,) = server.shown(TOPIC).values()
    server.press(shown, "Done")
    server.press(shown, "Done")
    token = json.loads(row.body)["actions"][0]["body"].split()[1]
    place = "0" * 24
    server.add(f"{TOPIC}-answers", message=f"done {token[::-1]} {place}")
    answering = Answering((days.plan,), days.store, (push,), ears=(push,))
    lines = answering.listen(push, at(today, 9), 0.0)
    assert [kind for kind, _ in days.said()] == [EntryKind.DONE]
    assert len(lines) == 2
