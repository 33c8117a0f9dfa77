"""Every adapter in a made-up language, where the world around it fails."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from strawbell.app.outbox import queue
from strawbell.app.ports import Channel, Unheard
from strawbell.edges.desktop import DesktopChannel
from strawbell.edges.door import StateLock
from strawbell.edges.folder import CalendarFolder, FolderChannel
from strawbell.edges.forecasts.chain import ADAPTERS, build_sources, first_forecast
from strawbell.edges.forecasts.http import Http
from strawbell.edges.forecasts.past import from_file
from strawbell.edges.inbox import ImapInbox
from strawbell.edges.lookups import read_xml
from strawbell.edges.mail_refusals import PROVIDERS
from strawbell.edges.programs import SendmailChannel
from strawbell.edges.push import PushChannel
from strawbell.edges.smtp import SmtpChannel
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.errors import StrawbellError
from strawbell.model.configuration import InboxSettings, MailSettings, PushSettings
from support.forecast_server import FakeService
from support.gardens import PLACE
from support.made_up_locale import TYPED, english_left, made_up_locale
from support.memory_answers import MemoryAnswers
from support.notices import SECRET, notice

_PATHS = re.compile(r"\S*/\S*|\w+(?:-\w+)+|\S+\.(?:eml|html|ics|toml)\b")
NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)
NOWHERE = MailSettings("localhost", 1, "none", "b@example.org", ("a@example.org",), "me", "secret")
BY_THE_SYSTEM = f"""Connection connection refused Not a directory No such file or directory File
exists database disk image is malformed met norway nws open meteo contact path state calendar email
oauth strawbell weather day localhost com b X store db at {TYPED}"""
"""What the system, a server or a setting is called by."""


def refused(attempt: Callable[[], object]) -> str:
    """Return what an attempt is refused with."""
    with pytest.raises((StrawbellError, Unheard)) as refusal:
        attempt()
    return str(refusal.value)


def failures(folder: Path) -> Iterator[str]:
    """Yield what the adapters say where the world around them is not there, or talks nonsense."""
    file = folder / "file"
    file.write_text("day,x\n")
    channels: list[Channel] = [
        SmtpChannel(NOWHERE),
        SendmailChannel("b@example.org", ("a@example.org",), program=folder / "none"),
        PushChannel(PushSettings("http://localhost:1", "X")),
        DesktopChannel({}),
        FolderChannel(file),
    ]
    for channel in channels:
        (row, *_) = queue(notice(), [channel], NOW, SECRET)
        yield channel.send(row).detail
    box = ImapInbox(
        InboxSettings("localhost", 1, "none", "a@example.org", "X", 1), NOWHERE, "X", 60.0
    )
    yield refused(lambda: box.gather("", NOW))
    yield from (provider.wants for provider in PROVIDERS)
    with FakeService(now=NOW) as service:
        for status, body in ((403, b""), (503, b"{}"), (200, b""), (200, b"<p>"), (200, b"{}")):
            service.fail(status, body)
            urls = dict.fromkeys(ADAPTERS, service.base_url)
            sources = build_sources(ADAPTERS, Http(MemoryAnswers()), urls)
            for _ in range(2):  # asked, and left alone
                yield from first_forecast(sources, PLACE, NOW)[1]
    yield from first_forecast(sources, PLACE, NOW + timedelta(days=1))[1]
    yield refused(lambda: read_xml(b"x", "a@example.org"))
    yield refused(lambda: from_file(file))
    yield refused(lambda: CalendarFolder(file).write("X", b""))
    yield refused(lambda: SqliteStore(folder, NOW))
    yield refused(lambda: SqliteStore(file, NOW, owner=True))
    yield refused(StateLock(file).acquire)
    yield from damaged(folder / "state" / "store.db")


def damaged(path: Path) -> Iterator[str]:
    """Yield what is said of a store that is lost, and of one that was begun anew."""
    SqliteStore(path, NOW, owner=True).close()
    path.write_bytes(path.read_bytes()[:5000])
    with SqliteStore(path, NOW, owner=True) as store:
        yield store.incident
    with StateLock(path.parent):
        yield refused(StateLock(path.parent).acquire)
    path.parent.chmod(0o777)
    yield refused(StateLock(path.parent).acquire)


def test_no_adapter_says_anything_outside_the_catalogue(tmp_path: Path) -> None:
    """Neither of a service, a way, a store nor a lock."""
    with made_up_locale():
        said = [each for each in failures(tmp_path) if each.strip()]
    assert len(said) > len(ADAPTERS) * 10
    plain = _PATHS.sub(" ", " ".join(said))
    assert sorted(set(english_left(plain, BY_THE_SYSTEM))) == [], said
