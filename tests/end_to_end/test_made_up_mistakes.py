"""Every mistake of a configuration in a made-up language: what is still English is no message."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

import pytest

from strawbell.agronomy.crop_table import CROPS
from strawbell.agronomy.feeds import FEEDS
from strawbell.agronomy.schedules import SCHEDULES
from strawbell.config import first_plan
from strawbell.config.keys import outline
from strawbell.config.load import load
from strawbell.config.places import twice
from strawbell.errors import GrowerError, Problem
from strawbell.words.catalogue import messages
from support.config_mistakes import MORE, SECRET, SLIPS, SOUND, TODAY
from support.made_up_locale import english_left, made_up_locale

_PATHS = re.compile(r"\S*/\S*|STRAWBELL_\w+|\w+(?:-\w+)+|\S+\.(?:eml|html|ics|toml)\b")


def configured(folder: Path, text: str | bytes = SOUND, mode: int = 0o600) -> Path:
    """Write a configuration."""
    path = folder / "config.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    path.chmod(mode)
    return path


def told(path: Path, environ: Mapping[str, str] | None = None) -> Iterator[Problem]:
    """Yield what is told of a configuration."""
    try:
        loaded = load(path, environ or {}, today=TODAY)
    except GrowerError as error:
        yield from error.problems
    else:
        yield from (*loaded.warnings, *loaded.missing_secrets)


def password_in(folder: Path, content: bytes, mode: int = 0o600) -> Path:
    """Write a configuration whose password lies in a file."""
    (folder / "kept").write_bytes(content)
    (folder / "kept").chmod(mode)
    return configured(folder, SOUND.replace(f'password = "{SECRET}"', 'password_file = "./kept"'))


def of_files(folder: Path) -> Iterator[Problem]:
    """Yield what is told of files: of the configuration, of gardens, of passwords, of shards."""
    yield from told(folder / "config.toml")
    yield from told(folder)
    os.mkfifo(folder / "pipe")
    yield from told(folder / "pipe")
    for raw in (b"", b"# later\n", b"#" * 2_000_000, SOUND.encode("utf-16"),
                SOUND.encode("utf-8-sig"), SOUND.encode() + b"\xfc"):  # fmt: skip
        yield from told(configured(folder, raw))
    yield from told(configured(folder, mode=0o644))
    for content, mode in ((b"", 0o600), (b"x", 0o644), (b"\xfc", 0o600)):
        yield from told(password_in(folder, content, mode))
    gardens = folder / "gardens.d"
    gardens.mkdir()
    (gardens / "a.toml").write_text("[gardens]\nx = 1\n[rules]\n")
    yield from told(configured(folder))
    for name in ("north", "south"):
        (folder / "strawbell" / name).mkdir(parents=True)
        shard = configured(folder / "strawbell" / name)
    yield from twice(shard)


def of_layers(folder: Path) -> Iterator[Problem]:
    """Yield what is told of variables, of credentials, and of a plan without mail."""
    (folder / "email__password").write_bytes(b"\xfc")
    environ = {"STRAWBELL_WEATHER__CONTACTS": "x", "STRAWBELL_EMAIL__PORT": "x",
               "STRAWBELL_STATE__PATH": "\udcfc", "CREDENTIALS_DIRECTORY": str(folder)}  # fmt: skip
    yield from told(configured(folder), environ)
    without = re.sub(r"(?ms)^\[email\].*?^$", "", SOUND)
    inbox = '[inbox]\nhost = "x.example"\n'
    helper = '[household]\nhelpers = [{ address = "a@b.example" }]\n'
    yield from told(configured(folder, f"{without}{inbox}{helper}"))
    login = f'username = "grower"\npassword = "{SECRET}"\n'
    yield from told(configured(folder, f"{SOUND.replace(login, '')}\n{inbox}"))


TYPED_FIRST: Sequence[tuple[Callable[..., object], Sequence[object]]] = (
    (first_plan.read_coordinates, ["91, 0"]),
    (first_plan.read_bales, ["X"]),
    (first_plan.read_bales, ["6 X"]),
    (first_plan.read_feeds, ["X"]),
    (first_plan.read_feeds, ["X 60-60-0"]),
    (first_plan.read_crops, ["X"]),
    (first_plan.read_crops, ["8 tomto"]),
    (first_plan.read_crops, ["2 rhubarb"]),
    (first_plan.read_first_day, ["X", TODAY]),
    (first_plan.read_first_day, ["1999-01-01", TODAY]),
    (first_plan.read_reach, ["X"]),
)
"""What is typed while setting up, and refused."""


def of_first_answers() -> Iterator[Problem]:
    for read, typed in TYPED_FIRST:
        with pytest.raises(GrowerError) as caught:
            read(*typed)
        yield from caught.value.problems


KEYS = " ".join(
    [
        *(f"{' '.join(key.path)} {' '.join(key.choices)}" for key in outline().values()),
        *(f"{key.example}" for key in outline().values()),
        *CROPS, *FEEDS, *SCHEDULES, SOUND,
        "config toml HOST PATH SECTION KEY STRAWBELL Europe Zurich true drench with email password",
        "three string tomto rhubarb MiB ha xfc udcfc setup",
    ]
).replace("_", " ")  # fmt: skip
"""What is typed in a configuration as it stands."""
_NOT_HERE = {"file-closed", "file-unreadable", "password-file-closed", "password-file-gone"}
"""What needs a system that refuses."""


def test_no_mistake_is_said_outside_the_catalogue(tmp_path: Path) -> None:
    """Every finding, of every kind, with all that is put into it."""
    texts = [
        *(each.make(SOUND) for each in SLIPS),
        *(SOUND.replace(*each) for each in MORE.values()),
    ]
    problems: list[tuple[str, Problem]] = []
    with made_up_locale() as said:
        for text in texts:
            problems += [(text, each) for each in told(configured(tmp_path, text))]
        for name, found in {"files": of_files, "layers": of_layers}.items():
            (tmp_path / name).mkdir()
            problems += [("", each) for each in found(tmp_path / name)]
        problems += [("", each) for each in of_first_answers()]
        english = {
            word: each.sentence()
            for text, each in problems
            for word in english_left(
                _PATHS.sub(" ", each.sentence()).replace("_", " "), f"{KEYS} {text}"
            )
        }
    assert english == {}
    findings = {key.split(".")[1] for key in messages("en_GB") if key.startswith("mistake.")}
    assert sorted(findings - {key.split(".")[1] for key in said if "mistake." in key}) == sorted(
        _NOT_HERE
    )
