"""Where files are looked for and kept."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from strawbell.config.places import config_path, notices_folder, state_folder
from strawbell.config.schema import Settings

MAIL = {"host": "smtp.example.org", "recipients": ["grower@example.org"]}


def test_the_argument_overrules_the_variable() -> None:
    """--config counts before STRAWBELL_CONFIG."""
    environ = {"STRAWBELL_CONFIG": "/etc/other.toml"}

    assert config_path(Path("mine.toml"), environ) == Path("mine.toml")
    assert config_path(None, environ) == Path("/etc/other.toml")


@pytest.mark.parametrize("environ", [{}, {"STRAWBELL_CONFIG": ""}])
def test_without_both_the_platform_folder_is_used(environ: dict[str, str]) -> None:
    """An empty variable is none."""
    expected = platformdirs.user_config_path("strawbell") / "config.toml"

    assert config_path(None, environ) == expected


def test_the_state_folder_is_the_configured_one_then_systemds_then_the_platforms() -> None:
    """systemd may name several folders; the first is ours."""
    environ = {"STATE_DIRECTORY": "/var/lib/strawbell:/var/lib/other"}
    own = Settings(state={"path": "/srv/bales"})  # type: ignore[arg-type]

    assert state_folder(own, environ) == Path("/srv/bales")
    assert state_folder(Settings(), environ) == Path("/var/lib/strawbell")
    assert state_folder(Settings(), {}) == platformdirs.user_state_path("strawbell")


def test_notices_are_files_when_no_other_channel_is_there() -> None:
    """The folder is the default channel, and an extra one only when it is asked for."""
    environ = {"STATE_DIRECTORY": "/var/lib/strawbell"}
    mail = Settings(email=MAIL)  # type: ignore[arg-type]
    desktop = Settings(desktop={"enabled": True})  # type: ignore[arg-type]
    both = Settings(email=MAIL, folder={"path": "/srv/notices"})  # type: ignore[arg-type]

    assert notices_folder(Settings(), environ) == Path("/var/lib/strawbell/notices")
    assert notices_folder(mail, environ) is None
    assert notices_folder(desktop, environ) is None
    assert notices_folder(both, environ) == Path("/srv/notices")
