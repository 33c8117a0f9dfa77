"""The configuration that a command works with."""

from __future__ import annotations

import argparse
import os

from strawbell.cli.kept_configuration import read_kept
from strawbell.errors import GrowerError
from strawbell.model.configuration import Configuration


def read_configuration(options: argparse.Namespace) -> Configuration:
    """Return the configuration without its secrets; mistakes are raised all at once.

    What is only odd in it is said by `check` and `run`: with every command it would be nagging.
    """
    return read_kept(options.config, os.environ)


def able_to_send(configuration: Configuration) -> Configuration:
    """Return a configuration with which notices can be sent; raise `GrowerError` otherwise."""
    if configuration.missing_secrets:
        raise GrowerError(configuration.missing_secrets)
    return configuration
