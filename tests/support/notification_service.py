"""A real session bus and a notification service on it, for as long as a test lasts.

Run as a program it serves org.freedesktop.Notifications on the bus named by its arguments and
prints one JSON line for every Notify.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={place}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
</busconfig>
"""


@contextmanager
def session_bus(folder: Path) -> Iterator[str]:
    """Run a session bus of its own; skip the test where the program is missing."""
    with mortal_bus(folder) as (address, _):
        yield address


@contextmanager
def mortal_bus(folder: Path) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """Run a session bus of its own, with the process to kill."""
    program = shutil.which("dbus-daemon")
    if program is None:
        pytest.skip("dbus-daemon is not installed")
    config = folder / "bus.conf"
    config.write_text(CONFIG.format(place=folder / "bus"), encoding="utf-8")
    daemon = subprocess.Popen(
        [program, f"--config-file={config}", "--nofork", "--print-address=1"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert daemon.stdout is not None
    try:
        yield daemon.stdout.readline().decode().strip(), daemon
    finally:
        daemon.terminate()
        daemon.wait(10)
        daemon.stdout.close()


class Service:
    """A running notification service and what it was asked to show."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process

    def shown(self) -> dict[str, object]:
        """Return the next notice, waiting for it."""
        assert self.process.stdout is not None
        notice: dict[str, object] = json.loads(self.process.stdout.readline())
        return notice


@contextmanager
def notification_service(
    address: str, capabilities: tuple[str, ...] = ("body",), behaviour: str = "show"
) -> Iterator[Service]:
    """Run a service that shows, hangs at a call, tells of it and hangs, returns an error, or
    leaves in mid-call; "press-done+not today" presses those buttons on each notice and closes it.
    """
    process = subprocess.Popen(
        [sys.executable, __file__, address, ",".join(capabilities), behaviour],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        assert process.stdout.readline() == "ready\n"
        yield Service(process)
    finally:
        process.kill()
        process.wait(10)
        process.stdout.close()


def serve(address: str, capabilities: list[str], behaviour: str) -> None:
    """Answer until killed."""
    from jeepney import MessageType, new_error, new_method_return
    from jeepney.bus_messages import message_bus
    from jeepney.io.blocking import Proxy, open_dbus_connection
    from jeepney.low_level import HeaderFields

    with open_dbus_connection(address) as connection:
        Proxy(message_bus, connection).RequestName("org.freedesktop.Notifications")
        print("ready", flush=True)
        number = 0
        pressed = behaviour.removeprefix("press-").split("+") if "press-" in behaviour else []
        while True:
            message = connection.receive()
            if message.header.message_type is not MessageType.method_call:
                continue
            member = message.header.fields[HeaderFields.member]
            if behaviour == f"hang-{member}":
                continue
            if behaviour == f"leave-{member}":
                os._exit(0)
            if behaviour == f"tell-{member}":
                print(json.dumps({"asked": member}), flush=True)
                continue
            if behaviour == f"error-{member}":
                connection.send(
                    new_error(message, "org.example.Error.Refused", "s", ("<b>no</b>",))
                )
                continue
            if member == "GetCapabilities":
                connection.send(new_method_return(message, "as", (capabilities,)))
            elif member == "Notify":
                number += 1
                name, old, _, title, body, actions = message.body[:6]
                shown = {"name": name, "title": title, "body": body}
                shown |= {"actions": actions, "old": old, "number": old or number}
                print(json.dumps(shown), flush=True)
                connection.send(new_method_return(message, "u", (old or number,)))
                for word in pressed:
                    # A stranger's first: every program on the bus hears of all of them.
                    for which in (number + 1000, old or number):
                        signal(connection, "ActionInvoked", "us", (which, word))
                for which in (number + 1000, old or number) if pressed else ():
                    signal(connection, "NotificationClosed", "uu", (which, 2))


def signal(connection: Any, member: str, kinds: str, values: tuple[object, ...]) -> None:
    """Send a signal as a notification service does."""
    from jeepney import DBusAddress, new_signal

    place = DBusAddress("/org/freedesktop/Notifications", interface="org.freedesktop.Notifications")
    connection.send(new_signal(place, member, kinds, values))


if __name__ == "__main__":
    serve(sys.argv[1], [name for name in sys.argv[2].split(",") if name], sys.argv[3])
