"""The units: sound to systemd, hardened as promised, every relaxation explained."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from strawbell.cli.installing import unit_text

FILES = {
    "user": "strawbell-user.service",
    "system": "strawbell-system.service",
    "shard": "strawbell@.service",
}
EXPOSURE_LIMIT = 1.5

analyze = shutil.which("systemd-analyze")
needs_systemd = pytest.mark.skipif(analyze is None, reason="systemd-analyze is not installed")


def filled(kind: str, folder: Path) -> Path:
    """Write the unit as `strawbell unit` prints it, with a program that exists."""
    text, found = re.subn(r"^(Exec\w+=)\S+", r"\1/bin/true", unit_text(kind), flags=re.MULTILINE)
    assert found == 2
    assert "@" not in re.sub(r"strawbell@|~?@[a-z-]+$|@[a-z-]+ @[a-z-]+$", "", text, flags=re.M)
    unit = folder / FILES[kind]
    unit.write_text(text, encoding="utf-8")
    return unit


def settings(kind: str) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for line in unit_text(kind).splitlines():
        if "=" in line and not line.startswith("#"):
            name, _, value = line.partition("=")
            found.setdefault(name, []).append(value)
    return found


def run(*words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    assert analyze is not None
    return subprocess.run(
        [analyze, *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        env={**os.environ, "XDG_RUNTIME_DIR": str(folder), "SYSTEMD_COLORS": "0"},
    )


@needs_systemd
@pytest.mark.parametrize(("kind", "words"), [("user", ["--user"]), ("system", []), ("shard", [])])
def test_systemd_finds_nothing_to_say(kind: str, words: list[str], tmp_path: Path) -> None:
    """`systemd-analyze verify` is silent and content."""
    unit = filled(kind, tmp_path)
    done = run("verify", "--man=no", *words, str(unit), folder=tmp_path)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@needs_systemd
@pytest.mark.parametrize("kind", ["system", "shard"])
def test_the_system_units_are_hardened(kind: str, tmp_path: Path) -> None:
    """The offline exposure is at or under 1.5."""
    unit = filled(kind, tmp_path)
    done = run("security", "--offline=yes", str(unit), folder=tmp_path)
    score = re.search(r"Overall exposure level for \S+: ([0-9.]+)", done.stdout)
    assert score is not None, done.stderr
    assert float(score.group(1)) <= EXPOSURE_LIMIT


@pytest.mark.parametrize("kind", FILES)
def test_the_daemon_reports_is_reloaded_and_watched(kind: str) -> None:
    """Type=notify, a reload that can fail, a watchdog of two minutes or more, no restart on
    mistakes.
    """
    found = settings(kind)
    assert found["Type"] == ["notify"]
    (start,), (reload,) = found["ExecStart"], found["ExecReload"]
    assert reload == start.removesuffix(" run") + " reload"
    minutes = re.fullmatch(r"(\d+)min", found["WatchdogSec"][0])
    assert minutes is not None
    assert int(minutes.group(1)) >= 2
    assert found["Restart"] == ["on-failure"]
    assert found["RestartPreventExitStatus"] == ["2"]


def test_no_command_runs_before_the_daemon_in_the_system_unit() -> None:
    """On 252 only the first command of a DynamicUser unit can read the credentials."""
    assert "ExecStartPre" not in settings("system")
    assert settings("system")["LoadCredential"][0].startswith("strawbell_email__password:")


def test_a_missing_credential_is_for_the_program_to_say() -> None:
    """An empty default stands in, so the unit starts (systemd.exec, "SetCredential=")."""
    name, _, _ = settings("system")["LoadCredential"][0].partition(":")
    assert settings("system")["SetCredential"] == [f"{name}:\\n"]


@pytest.mark.parametrize(("kind", "mode"), [("user", "0700"), ("system", "0750")])
def test_the_door_is_for_its_user_and_of_the_system_unit_for_a_group(kind: str, mode: str) -> None:
    """And whoever comes to it can be told apart."""
    found = settings(kind)
    assert (found["RuntimeDirectory"], found["RuntimeDirectoryMode"]) == (["strawbell"], [mode])
    assert found.get("Group") == {"user": None, "system": ["strawbell-growers"]}[kind]
    assert "PrivateUsers" not in found


def test_the_user_unit_hides_no_session_bus() -> None:
    """Neither a hidden /run/user nor a user name space stands before the desktop."""
    found = settings("user")
    assert not {"ProtectHome", "PrivateUsers", "DynamicUser", "StateDirectory"} & set(found)


def test_a_shard_is_a_system_unit_with_folders_of_its_own() -> None:
    """Configuration, state, runtime folder and password go by the instance ("%i", systemd.unit)."""
    system, shard = settings("system"), settings("shard")
    folders = ("ConfigurationDirectory", "StateDirectory", "RuntimeDirectory")
    assert all((system[key], shard[key]) == (["strawbell"], ["strawbell/%i"]) for key in folders)
    assert shard["LoadCredential"] == ["strawbell_email__password:/etc/strawbell/%i/email.password"]
    assert shard["Conflicts"] == ["strawbell.service"]
    other = {"Description", "Conflicts", "LoadCredential", *folders}
    assert {key: shard[key] for key in shard.keys() - other} == {
        key: system[key] for key in system.keys() - other
    }
