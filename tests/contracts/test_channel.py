"""What every channel promises, the real ones and the one of the tests."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from strawbell.app.outbox import queue
from strawbell.app.ports import Channel
from strawbell.edges.desktop import DesktopChannel
from strawbell.edges.folder import FolderChannel
from strawbell.edges.smtp import SmtpChannel
from strawbell.model.configuration import MailSettings
from strawbell.model.notice import Delivery, Notice, OutboxRow, Outcome
from support import notices
from support.fake_clock import DAWN
from support.notices import SECRET
from support.notification_service import notification_service, session_bus
from support.scripted_smtp import authority, client_context, server_context
from support.smtp_sink import PASSWORD, USERNAME, smtp_sink


def notice(**changes: object) -> Notice:
    said = {
        "garden": "Obstgarten Ecke 🌱",
        "subject": "Feed Row A: 500 g per bale",
        "text": "Feed 500 g of blood meal per bale.\n.\nWater 4 l.\n",
        "html": "<p>Feed <b>500 g</b></p>",
        "short": "Feed 500 g of blood meal per bale & water <4 l>",
    }
    return notices.notice(**(said | changes))


class FakeChannel:
    """The channel of the tests."""

    name = "fake"
    recipients = ("someone",)

    def render(self, notice: Notice, recipient: str, message_id: str) -> bytes:
        return f"{message_id} {recipient} {notice.text!r}".encode()

    def send(self, row: OutboxRow) -> Delivery:
        return Delivery(Outcome.ACCEPTED, "Taken.")

    def close(self) -> None:
        pass


@pytest.fixture(params=["fake", "folder", "email-none", "email-starttls", "email-tls", "desktop"])
def channel(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Channel]:
    """Every channel with a world around it that works."""
    with ExitStack() as world:
        if request.param == "fake":
            yield FakeChannel()
        elif request.param == "folder":
            yield FolderChannel(tmp_path / "notices")
        elif request.param == "desktop":
            address = world.enter_context(session_bus(tmp_path))
            world.enter_context(notification_service(address))
            yield DesktopChannel({"DBUS_SESSION_BUS_ADDRESS": address})
        else:
            security = request.param.removeprefix("email-")
            ca = authority()
            sink = world.enter_context(smtp_sink(security, server_context(ca)))
            settings = MailSettings(
                "127.0.0.1",
                sink.port,
                security,
                "Strawbell <bell@example.org>",
                ("a@example.org", "b@example.org"),
                *(() if security == "none" else (USERNAME, PASSWORD)),
            )
            yield SmtpChannel(
                settings,
                tls_context=lambda: client_context(ca),
            )


@pytest.fixture(params=["fake", "folder", "email", "desktop"])
def idle_channel(request: pytest.FixtureRequest, tmp_path: Path) -> Channel:
    """Every channel without a world around it."""
    channels: dict[str, Channel] = {
        "fake": FakeChannel(),
        "folder": FolderChannel(tmp_path / "notices"),
        "email": SmtpChannel(
            MailSettings("localhost", 1, "none", "b@example.org", ("a@example.org",))
        ),
        "desktop": DesktopChannel({}),
    }
    return channels[request.param]


def test_a_notice_is_delivered_to_every_recipient(channel: Channel) -> None:
    """Each row is accepted, with one sentence, and again when it is repeated."""
    rows = queue(notice(), [channel], DAWN, SECRET)
    assert [row.recipient for row in rows] == list(channel.recipients)
    for row in (*rows, *rows):
        delivery = channel.send(row)
        assert delivery.outcome is Outcome.ACCEPTED, delivery.detail
        assert delivery.detail.endswith(".")
        assert not delivery.settings_problem
    channel.close()


def test_a_channel_works_again_after_it_was_closed(channel: Channel) -> None:
    """Closing ends a pass, not the channel; closing twice is harmless."""
    (row, *_) = queue(notice(), [channel], DAWN, SECRET)
    for _ in range(2):
        assert channel.send(row).outcome is Outcome.ACCEPTED
        channel.close()
        channel.close()


def test_rendering_is_the_same_every_time(idle_channel: Channel) -> None:
    """The same notice gives the same bytes, another text other bytes."""
    first, again = (idle_channel.render(notice(), "a@example.org", "<k@x>") for _ in range(2))
    assert first == again
    other = notice(text="other", short="other")
    assert idle_channel.render(other, "a@example.org", "<k@x>") != first


@pytest.mark.parametrize(
    "odd",
    ["", "\0", "\ud800", "a\r\nBcc: x@example.org", "=?utf-8?q?a=0ABcc=3A_x?=", "x" * 10_000, "🌱"],
)
def test_any_text_can_be_rendered(idle_channel: Channel, odd: str) -> None:
    """No text of the grower's stops a notice from being frozen."""
    body = idle_channel.render(
        notice(garden=odd, subject=odd, text=odd, html=odd, short=odd), "a@example.org", "<k@x>"
    )
    assert isinstance(body, bytes)
    assert b"\nBcc" not in body.partition(b"\r\n\r\n")[0]


def test_a_channel_has_a_name_and_somebody_to_reach(idle_channel: Channel) -> None:
    """Both are part of the key of every message."""
    assert idle_channel.name
    assert idle_channel.recipients
    assert len(set(idle_channel.recipients)) == len(idle_channel.recipients)


def test_a_world_that_is_not_there_is_an_outcome_and_not_an_error(tmp_path: Path) -> None:
    """Nothing raises: no server, no session, a folder that is a file."""
    (tmp_path / "file").touch()
    channels: list[Channel] = [
        SmtpChannel(MailSettings("localhost", 1, "none", "b@example.org", ("a@example.org",))),
        DesktopChannel({}),
        FolderChannel(tmp_path / "file"),
    ]
    for channel in channels:
        (row, *_) = queue(notice(), [channel], DAWN, SECRET)
        assert channel.send(row).outcome is Outcome.LATER
        channel.close()
