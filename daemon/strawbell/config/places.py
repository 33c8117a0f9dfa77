"""Where the configuration is looked for when the grower does not say."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

PROGRAM = "strawbell"
CONFIG_FILE = "config.toml"
CONFIG_VARIABLE = "STRAWBELL_CONFIG"
MACHINES_CONFIG = Path("/etc") / PROGRAM / CONFIG_FILE
"""The configuration of the system unit, which is everybody's who has none of their own."""

GARDENS_FOLDER = "gardens.d"
"""Where gardens lie in files of their own, beside the configuration."""


def config_path(path: Path | None, environ: Mapping[str, str]) -> Path:
    """Return the configuration file: the argument's, the variable's, the grower's, the machine's.

    Without any, that of the grower is returned, which is not there.
    """
    if path is not None:
        return path
    named = environ.get(CONFIG_VARIABLE)
    if named:
        return Path(named)
    own = _own("XDG_CONFIG_HOME", ".config", environ) / CONFIG_FILE
    return MACHINES_CONFIG if not own.exists() and MACHINES_CONFIG.exists() else own


def kept_folder(environ: Mapping[str, str]) -> Path:
    """Return where checked configurations are kept: beside the grower's store, or a unit's."""
    folder = environ.get("STATE_DIRECTORY", "").split(":")[0]
    state = Path(folder) if folder else own_state(environ)
    return state / "checked"


def own_state(environ: Mapping[str, str]) -> Path:
    """Return the folder of a grower's own stores."""
    return _own("XDG_STATE_HOME", ".local/state", environ)


def _own(variable: str, usual: str, environ: Mapping[str, str]) -> Path:
    """Return our folder in one of the base directories (XDG Base Directory Specification 0.8).

    What is not an absolute path in the variable is passed over, as it says.
    """
    named = Path(environ.get(variable, ""))
    return (named if named.is_absolute() else Path.home() / usual) / PROGRAM


def garden_files(configuration: Path) -> tuple[Path, ...]:
    """Return the files of gardens that belong to a configuration, in order of name."""
    folder = configuration.parent / GARDENS_FOLDER
    return tuple(sorted(folder.glob("*.toml"))) if folder.is_dir() else ()
