"""Where the configuration is looked for."""

from __future__ import annotations

from pathlib import Path

import platformdirs
import pytest

from strawbell.config.places import config_path


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
