"""Load the configuration: everything that is wrong is told in one run.

The way of a configuration: read the file (`reading`), lay environment and credentials over it
(`layers`), take out unknown keys (`unknown`), validate (`validate`), check what belongs together
(`checks`), build the gardens (`build`). Only the result is kept; neither text nor raw values.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace
from pydantic import SecretStr

from strawbell.config import reading as files
from strawbell.config.build import gardens_of
from strawbell.config.checks import check
from strawbell.config.checks_context import Context
from strawbell.config.checks_services import password_path, read_password
from strawbell.config.layers import Layers, lay_over
from strawbell.config.mistakes import Labels, Mistake, finding, problem_of, secrets_in, value_at
from strawbell.config.places import config_path, garden_files
from strawbell.config.schema import Settings
from strawbell.config.supplies_at_hand import Supplies, supplies_of
from strawbell.config.validate import Validated, validate
from strawbell.errors import GrowerError, Problem
from strawbell.model.garden import Garden

WARNING = "worth a look: "
"""What a warning begins with where it stands among mistakes."""


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
    reading = files.read(chosen)
    for each in garden_files(chosen):
        files.join(reading, each)
    layers = lay_over(reading.data, environ)
    labels = Labels(chosen.name, reading.positions, layers.data, layers.origins, reading.files)
    # Taken before values are moved and mended; the list is only used to strike secrets out.
    secrets = [*layers.secrets, *secrets_in(layers.data)]
    holds_password = _holds_password(layers)
    mistakes = [*reading.mistakes, *layers.mistakes]
    settings: Settings | None = None
    supplies: Supplies | None = None
    if reading.complete:
        validated = validate(
            layers.data, labels, reading.tainted | layers.tainted, reading.doubtful
        )
        mistakes += validated.mistakes
        settings = validated.settings
        if settings is not None:
            supplies = supplies_of(settings)
            context = Context(
                settings=settings,
                supplies=supplies,
                today=today or datetime.now(UTC).date(),
                folder=chosen.parent,
                readers=reading.readers,
                file_holds_password=holds_password,
                doubtful=validated.rests_on_doubt,
            )
            mistakes += _sound(check(context), validated)
    found = _sorted(mistakes, labels, secrets)
    if found.problems or settings is None or supplies is None:
        marked = [replace(each, what=WARNING + each.what) for each in found.warnings]
        raise GrowerError([*found.problems, *found.missing_secrets, *marked])
    if not found.missing_secrets:
        settings = _with_password(settings, chosen.parent)
    gardens = gardens_of(settings, supplies)
    return Loaded(settings, gardens, found.warnings, chosen, found.missing_secrets)


def _holds_password(layers: Layers) -> bool:
    paths = (("email", "password"), ("inbox", "password"), ("push", "token"))
    return any(
        value_at(layers.data, path) is not None and path not in layers.origins for path in paths
    )


def _sound(findings: Iterable[Mistake], validated: Validated) -> list[Mistake]:
    """Leave out what rests on values that are wrong themselves."""
    return [each for each in findings if not validated.rests_on_doubt((each.path, *each.reads))]


class _Sorted(NamedTuple):
    problems: tuple[Problem, ...]
    warnings: tuple[Problem, ...]
    missing_secrets: tuple[Problem, ...]


def _sorted(mistakes: list[Mistake], labels: Labels, secrets: list[str]) -> _Sorted:
    """Return what was found by its weight, each once, in the order of the file."""
    in_order = sorted(mistakes, key=lambda each: each.line or labels.line_of(each.path) or 0)
    found: tuple[dict[Problem, None], ...] = ({}, {}, {})
    for each in in_order:
        weight = 1 if each.warning else 2 if each.secret else 0
        found[weight][problem_of(each, labels, secrets)] = None
    return _Sorted(*(tuple(kind) for kind in found))


def _with_password(settings: Settings, folder: Path) -> Settings:
    """Return settings in which the password is at hand, wherever it was kept."""
    mail = settings.email
    if mail is None or mail.password_file is None:
        return settings
    try:
        password = read_password(password_path(folder, mail.password_file))
    except (OSError, ValueError):
        gone = finding("password-file-gone").what
        raise GrowerError(Problem(gone, where="[email] password_file")) from None
    filled = mail.model_copy(update={"password": SecretStr(password)})
    return settings.model_copy(update={"email": filled})
