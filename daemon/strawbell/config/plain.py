"""From a validated configuration to the plain one that everything else uses."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pydantic import SecretStr

from strawbell.config.checks_services import password_path
from strawbell.config.load import Loaded, load
from strawbell.model.configuration import (
    Configuration,
    Helper,
    Household,
    InboxSettings,
    MailSettings,
    PushSettings,
    WeatherSettings,
)


def read_plain(path: Path | None, environ: Mapping[str, str]) -> Configuration:
    """Return the checked configuration; raise `GrowerError` with every mistake in it."""
    return plain(load(path, environ))


def plain(loaded: Loaded) -> Configuration:
    """Return the values of a loaded configuration."""
    settings = loaded.settings
    urls = settings.weather.base_urls
    given = {"open-meteo": urls.open_meteo, "nws": urls.nws, "met-norway": urls.met_norway}
    return Configuration(
        path=str(loaded.path),
        gardens=loaded.gardens,
        weather=WeatherSettings(
            sources=tuple(settings.weather.sources),
            contact=settings.weather.contact,
            base_urls={name: url for name, url in given.items() if url},
        ),
        mail=_mail(loaded),
        household=_household(loaded),
        inbox=_inbox(loaded),
        push=_push(loaded),
        desktop=settings.desktop.enabled,
        notices=settings.folder.path,
        calendars=settings.calendar.path,
        state=settings.state.path,
        warnings=loaded.warnings,
        missing_secrets=loaded.missing_secrets,
        rests_on=_rests_on(loaded),
    )


def _rests_on(loaded: Loaded) -> tuple[str, ...]:
    mail = loaded.settings.email
    if mail is None or mail.password_file is None:
        return ()
    return (str(password_path(loaded.path.parent, mail.password_file)),)


def _household(loaded: Loaded) -> Household:
    section = loaded.settings.household
    helpers = tuple(
        Helper(
            each.address,
            each.name or "",
            tuple(each.gardens),
            only_water=each.work == "water",
            only_while_away=each.when == "away",
        )
        for each in section.helpers
    )
    return Household(section.merge, helpers)


def _told(secret: SecretStr | None) -> str | None:
    return secret.get_secret_value() if secret else None


def _push(loaded: Loaded) -> PushSettings | None:
    push = loaded.settings.push
    if push is None:
        return None
    return PushSettings(push.url, push.topic, _told(push.token), _told(push.answer_token))


def _inbox(loaded: Loaded) -> InboxSettings | None:
    inbox, email = loaded.settings.inbox, loaded.settings.email
    if inbox is None or email is None:
        return None
    address = inbox.address or email.effective_sender
    return InboxSettings(
        inbox.host, inbox.effective_port, inbox.security, address, inbox.folder,
        inbox.poll_every_min, inbox.username, _told(inbox.password),
    )  # fmt: skip


def _mail(loaded: Loaded) -> MailSettings | None:
    email = loaded.settings.email
    if email is None:
        return None
    return MailSettings(
        email.host if email.via == "smtp" else None, email.effective_port, email.security,
        email.effective_sender, tuple(email.recipients), email.username, _told(email.password),
        email.password_command, email.oauth_token_command,
    )  # fmt: skip
