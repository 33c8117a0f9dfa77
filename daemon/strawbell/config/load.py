"""Load the configuration: everything that is wrong is told in one run.

The way of a configuration: read the file (`reading`), lay environment and credentials over it
(`layers`), take out unknown keys and validate (`validate`), check what belongs together (`CHECKS`),
build the gardens (`build`), and put the rest into plain values. Only the result is kept; neither
text nor raw values.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace
from pydantic import SecretStr

from strawbell.config import checks_place, reading
from strawbell.config import checks_plan as plan
from strawbell.config import checks_services as services
from strawbell.config import checks_supplies as supplies
from strawbell.config.build import Context, gardens_of, supplies_of
from strawbell.config.checks_services import password_path, read_password
from strawbell.config.layers import Layers, lay_over
from strawbell.config.mistakes import Labels, Mistake, problem_of, said, secrets_in, value_at
from strawbell.config.places import config_path, garden_files
from strawbell.config.schema import Settings
from strawbell.config.validate import validate
from strawbell.errors import GrowerError, Problem
from strawbell.model.configuration import (
    Configuration,
    Helper,
    Household,
    InboxSettings,
    MailSettings,
    PushSettings,
    WeatherSettings,
)
from strawbell.model.garden import Garden
from strawbell.words.catalogue import BRITISH

CHECKS: tuple[Callable[[Context], Iterator[Mistake]], ...] = (
    plan.emptiness, plan.duplicate_names, checks_place.places, plan.starts, plan.plantings,
    plan.too_many_plants, plan.harvests, plan.crowding, plan.raw_manure,
    supplies.days_fed, supplies.feeds_in_use, supplies.doses, plan.nothing_ahead,
    supplies.feeds, supplies.schedules, supplies.crops,
    services.rules, services.times, services.forecast_services,
    services.email, services.household, services.inbox, services.push,
)  # fmt: skip
"""What a schema cannot say: whether the values make sense together. Each is a generator of
findings; `reads` names the values that one rests on, so that nothing is said about values that are
wrong themselves."""


class Loaded(Struct, frozen=True):
    """A configuration without mistakes, and what is odd about it."""

    settings: Settings
    gardens: tuple[Garden, ...]
    warnings: tuple[Problem, ...]
    path: Path
    missing_secrets: tuple[Problem, ...] = ()
    """What is needed to send and is not to be had here; the daemon may have it."""


def load(
    path: Path | None,
    environ: Mapping[str, str],
    *,
    today: date | None = None,
) -> Loaded:
    """Return the configuration, or raise `GrowerError` with every mistake in it.

    `path` is that of the command line; without it $STRAWBELL_CONFIG, then the platform's folder.
    `today` is only used to tell whether the plan lies in the past.
    """
    chosen = config_path(path, environ)
    read = reading.read(chosen)
    for each in garden_files(chosen):
        reading.join(read, each)
    layers = lay_over(read.data, environ)
    labels = Labels(chosen.name, read.positions, layers.data, layers.origins, read.files)
    # Taken before values are moved and mended; the list is only used to strike secrets out.
    secrets = [*layers.secrets, *secrets_in(layers.data)]
    holds_password = _holds_password(layers)
    mistakes = [*read.mistakes, *layers.mistakes]
    context: Context | None = None
    if read.complete:
        validated = validate(layers.data, labels, read.tainted | layers.tainted, read.doubtful)
        mistakes += validated.mistakes
        if validated.settings is not None:
            context = Context(
                settings=validated.settings,
                supplies=supplies_of(validated.settings),
                today=today or datetime.now(UTC).date(),
                folder=chosen.parent,
                readers=read.readers,
                file_holds_password=holds_password,
                doubtful=validated.rests_on_doubt,
            )
            found = (each for check in CHECKS for each in check(context))
            # What rests on values that are wrong themselves is left out.
            mistakes += (
                each for each in found if not validated.rests_on_doubt((each.path, *each.reads))
            )
    problems, warnings, missing_secrets = _sorted(mistakes, labels, secrets)
    if problems or context is None:
        marked = (
            replace(each, what=BRITISH.say("configuration.look", what=each.what))
            for each in warnings
        )
        raise GrowerError([*problems, *missing_secrets, *marked])
    settings = context.settings
    if not missing_secrets:
        settings = _with_password(settings, chosen.parent)
    gardens = gardens_of(settings, context.supplies)
    return Loaded(settings, gardens, warnings, chosen, missing_secrets)


def _holds_password(layers: Layers) -> bool:
    paths = (("email", "password"), ("inbox", "password"), ("push", "token"))
    return any(
        value_at(layers.data, path) is not None and path not in layers.origins for path in paths
    )


def _sorted(
    mistakes: list[Mistake], labels: Labels, secrets: list[str]
) -> tuple[tuple[Problem, ...], tuple[Problem, ...], tuple[Problem, ...]]:
    """Return problems, warnings and missing secrets, each once, in the order of the file."""
    in_order = sorted(mistakes, key=lambda each: each.line or labels.line_of(each.path) or 0)
    problems: dict[Problem, None] = {}
    warnings: dict[Problem, None] = {}
    missing: dict[Problem, None] = {}
    for each in in_order:
        kind = warnings if each.warning else missing if each.secret else problems
        kind[problem_of(each, labels, secrets)] = None
    return tuple(problems), tuple(warnings), tuple(missing)


def _with_password(settings: Settings, folder: Path) -> Settings:
    """Return settings in which the password is at hand, wherever it was kept."""
    mail = settings.email
    if mail is None or mail.password_file is None:
        return settings
    try:
        password = read_password(password_path(folder, mail.password_file))
    except (OSError, ValueError):
        gone = Problem(where="[email] password_file", **said("password-file-gone"))
        raise GrowerError(gone) from None
    filled = mail.model_copy(update={"password": SecretStr(password)})
    return settings.model_copy(update={"email": filled})


def read_plain(path: Path | None, environ: Mapping[str, str]) -> Configuration:
    """Return the checked configuration; raise `GrowerError` with every mistake in it."""
    return plain(load(path, environ))


def plain(loaded: Loaded) -> Configuration:
    """Return the values of a loaded configuration."""
    settings = loaded.settings
    mail, push, household = settings.email, settings.push, settings.household
    urls = settings.weather.base_urls.model_dump(by_alias=True)
    return Configuration(
        path=str(loaded.path),
        gardens=loaded.gardens,
        weather=WeatherSettings(
            sources=tuple(settings.weather.sources),
            contact=settings.weather.contact,
            base_urls={name: url for name, url in urls.items() if url},
        ),
        mail=_mail(loaded),
        household=Household(
            household.merge,
            tuple(
                Helper(
                    each.address,
                    each.name or "",
                    tuple(each.gardens),
                    only_water=each.work == "water",
                    only_while_away=each.when == "away",
                )
                for each in household.helpers
            ),
        ),
        inbox=_inbox(loaded),
        push=PushSettings(push.url, push.topic, _told(push.token), _told(push.answer_token))
        if push
        else None,
        desktop=settings.desktop.enabled,
        notices=settings.folder.path,
        calendars=settings.calendar.path,
        state=settings.state.path,
        warnings=loaded.warnings,
        missing_secrets=loaded.missing_secrets,
        rests_on=(str(password_path(loaded.path.parent, mail.password_file)),)
        if mail and mail.password_file
        else (),
    )


def _told(secret: SecretStr | None) -> str | None:
    return secret.get_secret_value() if secret else None


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
