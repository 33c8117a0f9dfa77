"""Where files are looked for and kept when the grower does not say."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import platformdirs

from strawbell.config.schema import Settings

PROGRAM = "strawbell"
CONFIG_FILE = "config.toml"
CONFIG_VARIABLE = "STRAWBELL_CONFIG"
STATE_VARIABLE = "STATE_DIRECTORY"
"""Where systemd tells a unit its state folder (systemd.exec, "StateDirectory"); colons separate
several."""
NOTICES_FOLDER = "notices"


def config_path(path: Path | None, environ: Mapping[str, str]) -> Path:
    """Return the configuration file: the argument's, the variable's, the platform's."""
    if path is not None:
        return path
    named = environ.get(CONFIG_VARIABLE)
    if named:
        return Path(named)
    return platformdirs.user_config_path(PROGRAM) / CONFIG_FILE


def state_folder(settings: Settings, environ: Mapping[str, str]) -> Path:
    """Return the folder of the store: the configuration's, systemd's, the platform's."""
    if settings.state.path:
        return Path(settings.state.path).expanduser()
    given = environ.get(STATE_VARIABLE, "").split(":")[0]
    return Path(given) if given else platformdirs.user_state_path(PROGRAM)


def notices_folder(settings: Settings, environ: Mapping[str, str]) -> Path | None:
    """Return the folder of .eml files; None when other channels are there and it is not wanted."""
    if settings.folder.path:
        return Path(settings.folder.path).expanduser()
    if settings.email is not None or settings.desktop.enabled:
        return None
    return state_folder(settings, environ) / NOTICES_FOLDER
