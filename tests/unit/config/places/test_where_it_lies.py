"""Where the configuration is looked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from strawbell.config.places import config_path, own_state


def test_the_argument_overrules_the_variable() -> None:
    """--config counts before STRAWBELL_CONFIG."""
    environ = {"STRAWBELL_CONFIG": "/etc/other.toml"}

    assert config_path(Path("mine.toml"), environ) == Path("mine.toml")
    assert config_path(None, environ) == Path("/etc/other.toml")


@pytest.mark.parametrize("variable", [{}, {"STRAWBELL_CONFIG": ""}])
@pytest.mark.parametrize(
    ("base", "config", "state"),
    [
        ({}, "{home}/.config", "{home}/.local/state"),
        ({"XDG_CONFIG_HOME": "/c", "XDG_STATE_HOME": "/s"}, "/c", "/s"),
        ({"XDG_CONFIG_HOME": "c", "XDG_STATE_HOME": ""}, "{home}/.config", "{home}/.local/state"),
    ],
)
def test_without_both_the_base_directories_are_used(
    variable: dict[str, str], base: dict[str, str], config: str, state: str
) -> None:
    """XDG Base Directory Specification 0.8: what is empty or not absolute is passed over."""
    environ = {**variable, **base}
    own, kept = (Path(each.format(home=Path.home())) / "strawbell" for each in (config, state))

    assert config_path(None, environ) == own / "config.toml"
    assert own_state(environ) == kept
