"""A newcomer's first evening with real parts: questions, mail server, service manager, an answer.

The server is Postfix with Dovecot, the manager a systemd of its own; only weather and geocoder
stand in for services that cannot be had on loopback.
"""

from __future__ import annotations

import json
import os
import smtplib
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage, Message
from pathlib import Path

import pytest

from support.forecast_server import Answer, FakeOpenMeteo, calm
from support.postfix import GROWER_PASSWORD, SOMEBODY, MailHouse, mail_house, parsed
from support.scripted_smtp import client_context
from support.terminal import Terminal
from support.user_manager import under_a_manager

PLACE = {
    "results": [
        {
            "name": "Hilltop", "latitude": 47.05, "longitude": 8.31, "elevation": 435.0,
            "country_code": "CH", "timezone": "Europe/Zurich", "country": "Switzerland",
        }
    ]
}  # fmt: skip
SOUTH = {
    "results": [
        {
            "name": "Mount Barker", "latitude": -35.07, "longitude": 138.86, "elevation": 330.0,
            "country_code": "AU", "timezone": "Australia/Adelaide", "country": "Australia",
        }
    ]
}  # fmt: skip
ANSWERS = (
    ("Where is the garden", "Hilltop"),
    ("How many bales", "6"),
    ("on your shelf", "blood meal"),
    ("What will grow", "8 tomatoes"),
    ("first soaking", ""),
    ("How shall I tell you", SOMEBODY),
    ("Password for mail", "straw and strign"),
    ("Try another password", ""),
    ("Password for mail", GROWER_PASSWORD),
)
"""What is asked, and what a newcomer types who slips once in the password."""
MOST_QUESTIONS = 10
PATIENCE_S = 60.0


@pytest.fixture(scope="module")
def house() -> Iterator[MailHouse]:
    """A mail server with a mailbox."""
    with mail_house() as running:
        running.authority.cert_pem.write_to_path(str(running.folder / "authority.pem"))
        yield running


def environ(folder: Path, house: MailHouse) -> dict[str, str]:
    """Return what a login has; the authority of the server is known to the machine."""
    kept = {name: os.environ[name] for name in ("PATH", "LANG") if name in os.environ}
    return {
        **kept, "HOME": str(folder), "TERM": "dumb",
        "SSL_CERT_FILE": str(house.folder / "authority.pem"),
    }  # fmt: skip


def strawbell(*arguments: str) -> list[str]:
    """Return a command line."""
    return [sys.executable, "-m", "strawbell", *arguments]


def mails(house: MailHouse, wanted: str, many: int = 1) -> list[Message]:
    """Wait for mails whose subject holds some words."""
    ends = time.monotonic() + PATIENCE_S
    while time.monotonic() < ends:
        found = [parsed(each) for each in house.inbox()]
        found = [each for each in found if wanted in str(each["Subject"])]
        if len(found) >= many:
            return found
        time.sleep(0.2)
    raise AssertionError([str(parsed(each)["Subject"]) for each in house.inbox()])


def shown(said: str, day: str) -> list[str]:
    """Return the lines of a screen without what was typed; paths and addresses may be long."""
    typed = (*(answer for _, answer in ANSWERS), day)
    lines = said.replace("\r", "").splitlines()
    for answer in filter(None, typed):
        lines = [line.removesuffix(answer) for line in lines]
    return [line for line in lines if "/" not in line]


def answered(terminal: Terminal, house: MailHouse, day: str) -> None:
    """Answer the questions as a newcomer does, with a slip in the password."""
    for question, answer in ANSWERS:
        # The question may take two lines; its end is where one types.
        terminal.sees(rf"{question}(.|\s)*[?\]):] $")
        terminal.types(day if "soaking" in question else answer)


@pytest.mark.parametrize(
    ("place", "units", "columns"), [(PLACE, "metric", 80), (SOUTH, "us", 44)],
    ids=["north, metric, 80 columns", "south, US units, 44 columns"],
)  # fmt: skip
def test_from_nothing_to_mail_and_back(
    house: MailHouse, tmp_path: Path, place: dict[str, object], units: str, columns: int
) -> None:
    """Setup tries a wrong and the right password, writes, starts; the morning comes, is answered.

    Ten answers at most, the two of the slip apart; no line is wider than the terminal.
    """
    manager = under_a_manager(tmp_path)
    day = (datetime.now(UTC) - timedelta(days=1)).date().isoformat()
    with FakeOpenMeteo(calm) as weather:
        weather.fail_at("/v1/search", Answer(200, json.dumps(place).encode()))
        begun = len(house.inbox())
        terminal = Terminal(
            [
                *manager, "bash", "-c",
                f'{" ".join(strawbell("setup"))} "$@" && systemctl --user is-active strawbell'
                " && systemctl --user show -p MainPID --value strawbell && echo seen-active",
                "setup", "--mirror", weather.base_url, "--units", units,
                "--mail-server", f"localhost:{house.starttls}",
                "--inbox", f"localhost:{house.imaps}",
            ],
            environ(tmp_path, house), columns,
        )  # fmt: skip
        answered(terminal, house, day)
        terminal.sees(r"Start Strawbell now")
        terminal.types("")
        assert terminal.ends() == 0, terminal.seen
        said = terminal.seen
        assert "The username or the password is wrong" in " ".join(said.split())
        assert "seen-active" in said
        assert terminal.answers - 2 <= MOST_QUESTIONS
        assert [line for line in shown(said, day) if len(line) > columns] == []

        (test, *_) = mails(house, "Test: this notice", 1)[begun and -1 :]
        assert test["To"] == SOMEBODY
        config = tmp_path / ".config" / "strawbell" / "config.toml"
        morning_and_back(house, tmp_path, config, weather.base_url)


def morning_and_back(house: MailHouse, folder: Path, config: Path, weather: str) -> None:
    """Let the morning come now, answer its mail, and find the answer in the journal."""
    text = config.read_text() + (
        "\n[times]\nmorning = 00:00:00\ngive_up = 23:59:00\nevening = 23:58:00\n"
        "quiet_from = 23:59:00\nquiet_to = 00:00:00\n[weather.base_urls]\n"
        f'open-meteo = "{weather}"\n'
    )
    text = text.replace("[weather]\n", '[weather]\nsources = ["open-meteo"]\n')
    config.write_text(text)
    known = {str(parsed(each)["Message-ID"]) for each in house.inbox()}
    once(folder, house)
    new = [m for each in house.inbox() if (m := parsed(each))["Message-ID"] not in known]
    ends = time.monotonic() + PATIENCE_S
    while not new and time.monotonic() < ends:
        time.sleep(0.2)
        new = [m for each in house.inbox() if (m := parsed(each))["Message-ID"] not in known]
    assert new, "no morning came"
    (morning,) = new
    reply(house, morning, "done")
    ends = time.monotonic() + PATIENCE_S
    while "answered" not in (told := journal(folder, house)) and time.monotonic() < ends:
        once(folder, house)
    assert "done" in told, told


def once(folder: Path, house: MailHouse) -> None:
    """Do what is due now, as a timer would."""
    done = subprocess.run(
        strawbell("run", "--once"), env=environ(folder, house), capture_output=True, text=True,
        check=False, timeout=PATIENCE_S,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def journal(folder: Path, house: MailHouse) -> str:
    """Return the journal as the command prints it for programs."""
    return subprocess.run(
        strawbell("journal", "--json"), env=environ(folder, house), capture_output=True,
        text=True, check=True, timeout=PATIENCE_S,
    ).stdout  # fmt: skip


def reply(house: MailHouse, to: Message, text: str) -> None:
    """Send a reply through the same server, as the grower's own program does."""
    mail = EmailMessage()
    mail["From"], mail["To"] = SOMEBODY, to["Reply-To"] or to["From"]
    mail["Subject"] = f"Re: {to['Subject']}"
    mail["In-Reply-To"] = to["Message-ID"]
    mail["References"] = " ".join(f"{to['References'] or ''} {to['Message-ID']}".split())
    mail.set_content(text + "\n")
    context: ssl.SSLContext = client_context(house.authority)
    with smtplib.SMTP_SSL("localhost", house.tls, context=context) as server:
        server.login(SOMEBODY, GROWER_PASSWORD)
        server.send_message(mail)
