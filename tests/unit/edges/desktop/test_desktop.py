"""Desktop notices on a real session bus, with a service that does well or badly."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from strawbell.app.outbox import queue
from strawbell.edges import desktop
from strawbell.edges.desktop import DesktopChannel, bus_address, cut
from strawbell.model.notice import Delivery, Notice, Outcome
from support import notices
from support.fake_clock import DAWN
from support.notices import SECRET
from support.notification_service import notification_service, session_bus

SHORT_S = 0.3
MARKUP = "Feed <b>500 g</b> & water; <a href='file:///x'>x</a>"


@pytest.fixture
def bus(tmp_path: Path) -> Iterator[str]:
    with session_bus(tmp_path) as address:
        yield address


def notice(**changes: object) -> Notice:
    said = {"subject": "-5 degrees tonight", "text": "", "html": "", "short": MARKUP}
    return notices.notice(**(said | changes))


def send(channel: DesktopChannel, **changes: object) -> Delivery:
    (row,) = queue(notice(**changes), [channel], DAWN, SECRET)
    return channel.send(row)


def test_markup_is_escaped_for_a_service_that_reads_it(bus: str) -> None:
    """The reader sees the signs, not their effect."""
    with notification_service(bus, ("body", "body-markup")) as service:
        delivery = send(DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": bus}))
        shown = service.shown()
    assert delivery.outcome is Outcome.ACCEPTED
    assert shown["name"] == "Strawbell"
    assert shown["title"] == "-5 degrees tonight"
    assert shown["body"] == (
        "Feed &lt;b&gt;500 g&lt;/b&gt; &amp; water; &lt;a href='file:///x'&gt;x&lt;/a&gt;"
    )


def test_plain_text_stays_plain_for_a_service_that_reads_none(bus: str) -> None:
    """Nobody sees an ampersand code."""
    with notification_service(bus, ("body",)) as service:
        send(DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": bus}))
        assert service.shown()["body"] == MARKUP


@pytest.mark.parametrize(
    ("behaviour", "outcome"),
    [
        ("hang-GetCapabilities", Outcome.LATER),
        ("error-GetCapabilities", Outcome.LATER),
        ("leave-GetCapabilities", Outcome.LATER),
        ("hang-Notify", Outcome.UNKNOWN),
        ("error-Notify", Outcome.LATER),
        ("leave-Notify", Outcome.LATER),
    ],
)
def test_a_service_that_fails_has_the_right_class(
    bus: str, behaviour: str, outcome: Outcome
) -> None:
    """Asked and not answered is unknown; everything else was not shown."""
    with notification_service(bus, behaviour=behaviour):
        channel = DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": bus}, call_s=SHORT_S)
        delivery = send(channel)
    assert delivery.outcome is outcome, delivery.detail
    assert "<" not in delivery.detail


def test_a_bus_without_a_service_is_for_later(bus: str) -> None:
    """A desktop without notices may get one."""
    delivery = send(DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": bus}))
    assert delivery.outcome is Outcome.LATER
    assert "ServiceUnknown" in delivery.detail


@pytest.mark.parametrize(
    "environ",
    [
        {},
        {"XDG_RUNTIME_DIR": "/nowhere"},
        {"DBUS_SESSION_BUS_ADDRESS": "unix:path=/nowhere/bus"},
        {"DBUS_SESSION_BUS_ADDRESS": "tcp:host=localhost,port=1", "PATH": "/nowhere"},
        {"DBUS_SESSION_BUS_ADDRESS": "nonsense", "PATH": "/nowhere"},
    ],
)
def test_without_a_bus_the_notice_waits(environ: dict[str, str]) -> None:
    """One sentence, no error, whatever the environment says."""
    delivery = send(DesktopChannel(environ))
    assert delivery.outcome is Outcome.LATER
    assert not delivery.settings_problem


@pytest.mark.parametrize("answers", [0, 1])
def test_a_bus_that_hangs_ends_at_the_limit(tmp_path: Path, answers: int) -> None:
    """Neither before nor after the greeting does it hold the attempt."""
    place = tmp_path / "bus"
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(place))
        listener.listen()
        if answers:
            import threading

            def greet() -> None:
                link, _ = listener.accept()
                with link:
                    link.recv(1000)
                    link.sendall(b"OK 0123456789abcdef0123456789abcdef\r\n")
                    while link.recv(1000):
                        pass

            threading.Thread(target=greet, daemon=True).start()
        channel = DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": f"unix:path={place}"}, call_s=SHORT_S)
        assert send(channel).outcome is Outcome.LATER


def test_the_default_place_of_the_bus_is_the_runtime_folder(tmp_path: Path) -> None:
    """A service of the user has no address variable, but a runtime folder."""
    assert bus_address({"XDG_RUNTIME_DIR": "/run/user/1000"}) == "unix:path=/run/user/1000/bus"
    assert bus_address({"DBUS_SESSION_BUS_ADDRESS": "unix:abstract=x"}) == "unix:abstract=x"
    assert bus_address({"DBUS_SESSION_BUS_ADDRESS": ""}) is None
    with session_bus(tmp_path) as address, notification_service(address):
        assert send(DesktopChannel({"XDG_RUNTIME_DIR": str(tmp_path)})).outcome is Outcome.ACCEPTED


def test_long_texts_are_cut_where_the_eye_sees_a_character() -> None:
    """At the limit nothing is cut; beyond it no accent or joined sign is torn apart."""
    assert cut("a" * 10, 10) == "a" * 10
    assert cut("a" * 11, 10) == "a" * 9 + "…"
    assert cut("aaaaaaae\u0301bbb", 9) == "aaaaaaa…"
    assert cut("aaaaaa👩\u200d🌾bbb", 9) == "aaaaaa…"
    body = json.loads(DesktopChannel({}).render(notice(short="🌱" * 5000), "desktop", "<k>"))[
        "body"
    ]
    assert len(body) == desktop.BODY_LIMIT_CHARACTERS


def test_a_stored_notice_that_cannot_be_read_ends_there() -> None:
    """A damaged row is refused for good, not tried for ever."""
    channel = DesktopChannel({})
    (row,) = queue(notice(), [channel], DAWN, SECRET)
    assert channel.send(replace(row, body=b"\xff")).outcome is Outcome.FOR_GOOD
    assert channel.send(replace(row, body=b"[]")).outcome is Outcome.FOR_GOOD
