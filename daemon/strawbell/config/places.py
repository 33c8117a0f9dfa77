"""Where the configuration is looked for when the grower does not say."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import platformdirs

PROGRAM = "strawbell"
CONFIG_FILE = "config.toml"
CONFIG_VARIABLE = "STRAWBELL_CONFIG"


def config_path(path: Path | None, environ: Mapping[str, str]) -> Path:
    """Return the configuration file: the argument's, the variable's, the platform's."""
    if path is not None:
        return path
    named = environ.get(CONFIG_VARIABLE)
    if named:
        return Path(named)
    return platformdirs.user_config_path(PROGRAM) / CONFIG_FILE
