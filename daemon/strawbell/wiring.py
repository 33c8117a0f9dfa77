"""Puts the parts together: from a read configuration to stores, sources, channels and a daemon.

The only place beside the commands that knows every room. Adapters are imported when they are
configured, so that a daemon that writes files never loads TLS or the session bus.
"""

from __future__ import annotations

import os
import random
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from strawbell.app.cycle import Cycle, ForecastFor
from strawbell.app.daemon import Parts
from strawbell.app.ports import AnswerCache, CachedAnswer, Channel, ForecastSource, Store
from strawbell.config.load import Loaded
from strawbell.edges.store.sqlite_store import SqliteStore
from strawbell.model.forecast import Forecast
from strawbell.model.garden import Place

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


def state_file(loaded: Loaded, environ: Mapping[str, str] | None = None) -> Path:
    """Return the path of the store: configured, else systemd's, else the platform's."""
    environ = os.environ if environ is None else environ
    configured = loaded.settings.state.path
    if configured:
        path = Path(configured).expanduser()
        if not path.is_absolute() and loaded.path is not None:
            path = loaded.path.parent / path
        return path if path.suffix else path / STORE_NAME
    folder = environ.get("STATE_DIRECTORY", "").split(":")[0]
    if folder:
        return Path(folder) / STORE_NAME
    from platformdirs import user_state_path

    return user_state_path("strawbell") / STORE_NAME


def open_store(loaded: Loaded, now: datetime, *, owner: bool = False) -> SqliteStore:
    """Open the store of a configuration; the daemon is its owner."""
    return SqliteStore(state_file(loaded), now, owner=owner)


def channels_of(loaded: Loaded) -> tuple[Channel, ...]:
    """Return the configured channels; the folder beside the store when there is no other."""
    settings = loaded.settings
    channels: list[Channel] = []
    if settings.email is not None:
        from strawbell.edges.smtp import SmtpChannel

        email = settings.email
        channels.append(
            SmtpChannel(
                email.host,
                email.effective_port,
                email.security,
                email.effective_sender,
                tuple(email.recipients),
                email.username,
                email.password.get_secret_value() if email.password else None,
            )
        )
    if settings.desktop.enabled:
        from strawbell.edges.desktop import DesktopChannel

        channels.append(DesktopChannel())
    if settings.folder.path or not channels:
        from strawbell.edges.folder import FolderChannel

        channels.append(FolderChannel(_notices_folder(loaded)))
    return tuple(channels)


def sources_of(loaded: Loaded, cache: AnswerCache) -> tuple[ForecastSource, ...]:
    """Return the configured forecast services, in order."""
    from strawbell.edges.forecasts.chain import build_sources
    from strawbell.edges.forecasts.http import Http

    weather = loaded.settings.weather
    urls = weather.base_urls
    given = {"open-meteo": urls.open_meteo, "nws": urls.nws, "met-norway": urls.met_norway}
    base_urls = {name: url for name, url in given.items() if url}
    return build_sources(weather.sources, Http(cache, contact=weather.contact), base_urls)


def forecasts_of(loaded: Loaded, cache: AnswerCache) -> ForecastFor:
    """Return the function that gets the best forecast to be had; services are loaded on use."""
    sources: list[tuple[ForecastSource, ...]] = []

    def forecast_for(place: Place, now: datetime) -> tuple[Forecast | None, tuple[str, ...]]:
        from strawbell.edges.forecasts.chain import first_forecast

        if not sources:
            sources.append(sources_of(loaded, cache))
        return first_forecast(sources[0], place, now)

    return forecast_for


def parts_of(loaded: Loaded, store: Store, cache: AnswerCache) -> Parts:
    """Return what a daemon is made of."""
    from strawbell.edges.alarms import Alarms

    channels = channels_of(loaded)
    gardens = loaded.gardens
    cycle = Cycle(gardens, store, channels, forecasts_of(loaded, cache))
    return Parts(cycle, channels, lambda ring: Alarms(gardens, ring))


def new_rng() -> random.Random:
    """Return randomness for the spread of retries."""
    return random.Random()  # noqa: S311 - jitter, not a secret


def _notices_folder(loaded: Loaded) -> Path:
    configured = loaded.settings.folder.path
    if not configured:
        return state_file(loaded).parent / NOTICES_NAME
    path = Path(configured).expanduser()
    if not path.is_absolute() and loaded.path is not None:
        path = loaded.path.parent / path
    return path
