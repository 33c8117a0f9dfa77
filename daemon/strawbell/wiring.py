"""Puts the parts together: from a read configuration to stores, sources, channels and a daemon.

The only place beside the commands that knows every room. Adapters are imported when they are
configured, so that a daemon that writes files never loads TLS or the session bus.

Decided 2026-11-25: All code of the first morning is loaded when the daemon starts, so that neither
a disk in trouble nor an update of its packages stops it later.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import pwd
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from strawbell import __version__
from strawbell.app.identity import Settled, settled_in
from strawbell.app.ports import (
    AnswerCache,
    CachedAnswer,
    Calendars,
    Channel,
    Ear,
    ForecastFor,
    ForecastSource,
)
from strawbell.config.places import own_state
from strawbell.edges.door import door_name
from strawbell.edges.machine import SystemClock
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.configuration import Configuration, MailSettings
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place
from strawbell.model.identity import KEY_BYTES, StoreSecret

if TYPE_CHECKING:
    from strawbell.app.outbox import Sender
    from strawbell.app.pipeline import Pipeline
    from strawbell.edges.forecasts.chain import Beside

MACHINES_FOLDER = Path("/etc")
"""What lies in it is the machine's, not one grower's (FHS 3.0, 3.7)."""
MACHINES_STATE = Path("/var/lib/strawbell")
MACHINES_RUNTIME = Path("/run/strawbell")
"""StateDirectory= and RuntimeDirectory= of the system unit, for who is not inside of it; those of
an instance lie in them under its name."""
PLANNERS_ROOMS = ("model", "agronomy", "season")
"""Whose code makes the checkpoint of a journal."""
STORE_NAME = "strawbell.db"
NOTICES_NAME = "notices"


class MemoryCache:
    """Answers kept for one command only, so that a supposed time never touches the store."""

    def __init__(self) -> None:
        """Start empty."""
        self._answers: dict[str, CachedAnswer] = {}

    def load(self, url: str) -> CachedAnswer | None:
        """Return the last good answer of a URL, or None."""
        return self._answers.get(url)

    def keep(self, answer: CachedAnswer) -> None:
        """Replace the last good answer of `answer.url`."""
        self._answers[answer.url] = answer


def state_file(configuration: Configuration) -> Path:
    """Return the path of the store: configured, else the unit's, else that of the configuration.

    A command finds the store of the daemon by the same configuration, whoever runs it: that of
    the machine belongs to the system unit, and a grower's own to that grower.
    """
    if configuration.state:
        path = _beside(configuration, configuration.state)
        return path if path.suffix else path / STORE_NAME
    folder = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    if folder:
        return Path(folder) / STORE_NAME
    if is_the_machines(Path(configuration.path)):
        return MACHINES_STATE / _instance(Path(configuration.path)) / STORE_NAME
    home = _home_of_another(Path(configuration.path))
    if home is not None:
        return home / ".local" / "state" / "strawbell" / STORE_NAME
    return own_state(os.environ) / STORE_NAME


def is_the_machines(configuration: Path) -> bool:
    """Return whether a configuration is one of the machine, as the system unit has it."""
    return MACHINES_FOLDER in Path(os.path.realpath(configuration)).parents


def machines_runtime(configuration: Path) -> Path:
    """Return the folder of the door of a system unit, the one whose configuration it is."""
    return MACHINES_RUNTIME / _instance(configuration)


def _instance(configuration: Path) -> str:
    """Return the instance of the system unit whose configuration it is, "" for the plain unit.

    That of an instance lies in a folder of its name: /etc/strawbell/INSTANCE/config.toml.
    """
    folder = Path(os.path.realpath(configuration)).parent
    return folder.name if folder.parent == MACHINES_FOLDER / "strawbell" else ""


def _home_of_another(configuration: Path) -> Path | None:
    """Return the home of the grower whose configuration it is, None for one's own or root's."""
    owner = _owner_of(configuration)
    if owner in (None, 0, os.geteuid()):
        return None
    try:
        return Path(pwd.getpwuid(owner).pw_dir)
    except KeyError:
        return None


def _owner_of(path: Path) -> int | None:
    try:
        return path.stat().st_uid
    except OSError:
        return None


def own_door(configuration: Path) -> Path:
    """Return where the daemon of a configuration opens its door, which depends on nothing in it.

    In the folder of the unit, else in the user's runtime folder; without one, in /run for root
    and in a folder of its own in /tmp for others.
    """
    unit = _unit_runtime()
    folders = [unit] if unit else [*_runtime_folders(os.geteuid()), _last_resort()]
    return folders[0] / door_name(configuration)


def doors(configuration: Path) -> tuple[Path, ...]:
    """Return where the daemon of a configuration may have its door, whoever runs it."""
    unit = _unit_runtime()
    owner = _owner_of(configuration)
    users = {os.geteuid(): None, **({owner: None} if owner and os.geteuid() == 0 else {})}
    folders = [
        *([unit] if unit else []),
        *(folder for user in users for folder in _runtime_folders(user)),
        machines_runtime(configuration),
    ]
    # In /tmp anybody may be the first to make a folder of that name.
    if _owner_of(_last_resort()) == os.geteuid():
        folders.append(_last_resort())
    return tuple(dict.fromkeys(folder / door_name(configuration) for folder in folders))


def _unit_runtime() -> Path | None:
    named = os.environ.get("RUNTIME_DIRECTORY", "").split(":")[0]
    return Path(named) if named else None


def _runtime_folders(user: int) -> list[Path]:
    """Return our folders in the runtime folder of a user, where there is one."""
    named = os.environ.get("XDG_RUNTIME_DIR") if user == os.geteuid() else None
    places = [Path(named)] if named else []
    places.append(Path("/run/user") / str(user))
    return [place / "strawbell" for place in places if _owner_of(place) == user]


def _last_resort() -> Path:
    user = os.geteuid()
    if user == 0:
        return MACHINES_RUNTIME
    from tempfile import gettempdir

    return Path(gettempdir()) / f"strawbell-{user}"


def open_store(configuration: Configuration, now: datetime, *, owner: bool = False) -> SqliteStore:
    """Open the store of a configuration by the names of today; the daemon is its owner."""
    store = SqliteStore(state_file(configuration), now, owner=owner)
    store.call(settled_in(store, configuration.gardens, now).names)
    return store


def introduce(configuration: Configuration, store: SqliteStore, now: datetime) -> Settled:
    """Let the store remember the gardens of a configuration, and go by their names."""
    found = settled_in(store, configuration.gardens, now)
    store.write(found.entries(now))
    store.call(found.names)
    return found


def channels_of(configuration: Configuration) -> tuple[Channel, ...]:
    """Return the configured channels; the folder beside the store when there is no other."""
    channels: list[Channel] = []
    if configuration.mail is not None:
        answers_to = configuration.inbox.address if configuration.inbox else None
        channels.append(_mail_channel(configuration.mail, answers_to))
    if configuration.push is not None:
        from strawbell.edges.push import PushChannel

        channels.append(PushChannel(configuration.push))
    if configuration.desktop:
        from strawbell.edges.desktop import DesktopChannel

        channels.append(DesktopChannel())
    if configuration.notices or not channels:
        channels.append(_folder_channel(configuration))
    return tuple(channels)


def _spare(configuration: Configuration, channels: tuple[Channel, ...]) -> Channel | None:
    """Return the folder beside the store for what no channel delivers, unless it is one itself."""
    has_folder = any(channel.name == "folder" for channel in channels)
    return None if has_folder else _folder_channel(configuration)


def _folder_channel(configuration: Configuration) -> Channel:
    from strawbell.edges.folder import FolderChannel

    return FolderChannel(notices_folder(configuration))


def _mail_channel(mail: MailSettings, answers_to: str | None) -> Channel:
    if mail.host is None:
        from strawbell.edges.programs import SendmailChannel

        return SendmailChannel(mail.sender, mail.recipients, answers_to)
    from strawbell.edges.smtp import SmtpChannel

    return SmtpChannel(mail, answers_to=answers_to)


def ears_of(configuration: Configuration, channels: Sequence[Channel]) -> tuple[Ear, ...]:
    """Return the ways by which answers come in: a mailbox, and channels with buttons."""
    own = tuple(channel for channel in channels if isinstance(channel, Ear))
    inbox, mail = configuration.inbox, configuration.mail
    if inbox is None or mail is None:
        return own
    from strawbell.edges.inbox import JUNK_EVERY_S, ImapInbox

    # What a filter takes for junk is answered too, where its token is right.
    looked = (
        ImapInbox(inbox, mail, inbox.folder, inbox.poll_every_min * 60.0),
        ImapInbox(inbox, mail, None, JUNK_EVERY_S),
    )
    return (*looked, *own)


def sources_of(configuration: Configuration, cache: AnswerCache) -> tuple[ForecastSource, ...]:
    """Return the configured forecast services, in order."""
    from strawbell.edges.forecasts.chain import build_sources
    from strawbell.edges.forecasts.http import Http

    weather = configuration.weather
    http = Http(cache, contact=weather.contact)
    return build_sources(weather.sources, http, weather.base_urls)


def forecasts_of(configuration: Configuration, cache: AnswerCache) -> ForecastFor:
    """Return the function that gets the best forecast to be had; services are made on use."""
    asked: list[tuple[tuple[ForecastSource, ...], Beside | None]] = []

    def forecast_for(place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        from strawbell.app.looks import cell_of
        from strawbell.edges.forecasts.chain import best_forecast, build_beside
        from strawbell.edges.forecasts.http import Http

        weather = configuration.weather
        if not asked:
            http = Http(cache, contact=weather.contact)
            beside = build_beside(weather.sources, http, weather.base_urls)
            asked.append((sources_of(configuration, cache), beside))
        sources, beside = asked[0]
        return best_forecast(sources, cell_of(place), now, beside)

    return forecast_for


def calendars_of(configuration: Configuration) -> Calendars | None:
    """Return where calendars are kept, None when they are not."""
    if configuration.calendars is None:
        return None
    from strawbell.edges.folder import CalendarFolder

    return CalendarFolder(_beside(configuration, configuration.calendars))


def pipeline_of(configuration: Configuration, store: SqliteStore, sender: Sender) -> Pipeline:
    """Return what the mornings of a configuration go through, with what this process sends by."""
    # Here, not above: who checks a configuration need not load the planner.
    from strawbell.app.pipeline import Pipeline
    from strawbell.edges.forecasts.http import PatientCache

    channels = channels_of(configuration)
    return Pipeline(
        configuration.gardens,
        store,
        channels,
        forecasts_of(configuration, PatientCache(store)),
        sender,
        calendars_of(configuration),
        configuration.household,
        build(),
        ears_of(configuration, channels),
        _spare(configuration, channels),
    )


def build(rooms: Iterable[str] = PLANNERS_ROOMS) -> str:
    """Return what tells one build of some rooms from another: their files, as they lie there.

    A checkout changes without a change of version, and what the one before kept would not fit.
    """
    here = os.path.dirname(__file__)  # noqa: PTH120 - text, since each command asks
    said = "\n".join(sorted(line for room in rooms for line in _files_in(f"{here}/{room}")))
    return f"{__version__} {hashlib.sha256(said.encode()).hexdigest()}"


def _files_in(folder: str) -> Iterator[str]:
    with os.scandir(folder) as found:
        for each in found:
            if each.name.endswith(".py"):
                yield f"{each.path}:{each.stat().st_mtime_ns}"
            elif each.is_dir() and each.name != "__pycache__":
                yield from _files_in(each.path)


def load_ahead(configuration: Configuration) -> None:
    """Load what the first morning of this configuration needs, as long as all is well.

    A short command loads on use. A daemon would then read its libraries on the very morning on
    which the disk fails, files run out or an update has just replaced them.
    """
    from strawbell.words.catalogue import AMERICAN, BRITISH
    from strawbell.words.page import load_templates

    load_templates()
    for tongue in (BRITISH, AMERICAN):
        tongue.read_ahead()
    if configuration.weather.sources:
        import_module("strawbell.edges.forecasts.transport")
        sources_of(configuration, MemoryCache())
    if configuration.desktop:
        # The channel has another way where the library is missing.
        with contextlib.suppress(ImportError):
            for name in ("jeepney.bus_messages", "jeepney.io.threading", "jeepney.wrappers"):
                import_module(name)
    if configuration.inbox is not None:
        import_module("imap_tools")
    if configuration.calendars is not None:
        for name in ("strawbell.words.calendar", "icalendar"):
            import_module(name)


def new_sender() -> Sender:
    """Return what this process sends by: its clock, and randomness for the spread of retries."""
    from random import Random

    from strawbell.app.outbox import Sender

    return Sender(SystemClock(), Random())  # noqa: S311 - jitter, not a secret


def new_secret() -> StoreSecret:
    """Return a secret for what is told past a store that cannot be opened."""
    return StoreSecret(os.urandom(KEY_BYTES))


def notices_folder(configuration: Configuration) -> Path:
    """Return where notices are written as files."""
    if configuration.notices:
        return _beside(configuration, configuration.notices)
    return state_file(configuration).parent / NOTICES_NAME


def _beside(configuration: Configuration, text: str) -> Path:
    """Return a configured path; a relative one lies beside the configuration file."""
    path = Path(text).expanduser()
    return path if path.is_absolute() else Path(configuration.path).parent / path
