"""The daemon as a real process, over a loopback forecast service and a loopback mail server."""

from __future__ import annotations

import signal
import sqlite3
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy
from pathlib import Path

import pytest

from support.daemon_process import Setup, stop, wait_until
from support.forecast_server import FakeOpenMeteo, calm
from support.smtp_sink import smtp_sink

FREEZE_IN_H = 9
RAIN_IN_H = 6


def weather_with(**at_hour: tuple[int, Mapping[str, float]]):
    """Return mild weather with other values some hours from now."""
    begins = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
    changes = {begins + timedelta(hours=hours): values for hours, values in at_hour.values()}
    return lambda hour: {**calm(hour), **changes.get(hour, {})}


@pytest.fixture
def service() -> Iterator[FakeOpenMeteo]:
    """A forecast service with mild weather."""
    with FakeOpenMeteo(calm) as running:
        yield running


def mails(sink: object) -> list:
    """Return the mails a sink has accepted."""
    return [message_from_bytes(e.content, policy=policy.default) for e in sink.envelopes]  # type: ignore[attr-defined]


def test_a_feeding_before_a_freeze_is_held_by_mail(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """From start to the mail in the sink; SIGTERM ends it cleanly."""
    service.set_weather(weather_with(night=(FREEZE_IN_H, {"temperature_c": -3.1})))
    with smtp_sink("none") as sink:
        setup = Setup(tmp_path, service.base_url, sink.port)
        daemon = setup.start()
        assert wait_until(lambda: len(sink.envelopes) == 1)
        code, said = stop(daemon)
    assert code == 0
    assert "Traceback" not in said
    (mail,) = mails(sink)
    assert "Don't feed" in mail["Subject"]
    text = mail.get_body(("plain",)).get_content()
    assert "-3 °C" in text
    assert "Open-Meteo" in text
    assert mail["Auto-Submitted"] == "auto-generated"


def test_a_second_daemon_is_refused_with_the_owners_pid(
    tmp_path: Path, service: FakeOpenMeteo
) -> None:
    """Two daemons on one store are impossible."""
    setup = Setup(tmp_path, service.base_url)
    daemon = setup.start()
    assert wait_until((tmp_path / "state" / "notices").is_dir)
    second = setup.command("run", "--once")
    stop(daemon)
    assert second.returncode == 2
    assert str(daemon.pid) in second.stderr
    assert "Traceback" not in second.stderr


def test_an_unreachable_mail_server_loses_nothing(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """The mail waits on disk and is delivered once by a later run, the same message."""
    with smtp_sink("none") as sink:
        port = sink.port
    setup = Setup(tmp_path, service.base_url, port)
    first = setup.command("run", "--once")
    assert first.returncode == 1
    assert "later" in first.stdout
    _make_due(tmp_path / "state" / "strawbell.db")
    with smtp_sink("none") as sink:
        setup.smtp_port = sink.port
        setup.write()
        again = setup.command("run", "--once")
        setup.command("run", "--once")
    assert again.returncode == 0, again.stdout + again.stderr
    assert len(sink.envelopes) == 1


def _make_due(store: Path) -> None:
    """Let the retry of every waiting message be due now, instead of sleeping until it is."""
    with sqlite3.connect(store) as connection:
        connection.execute(
            "UPDATE outbox SET next_attempt_at = created_at WHERE state IN ('later', 'unknown')"
        )
    connection.close()


def test_a_bad_configuration_on_hangup_keeps_the_old(
    tmp_path: Path, service: FakeOpenMeteo
) -> None:
    """SIGHUP with a mistake in the file: the daemon says so and goes on."""
    setup = Setup(tmp_path, service.base_url)
    daemon = setup.start()
    assert wait_until(lambda: any((tmp_path / "state").glob("notices/*.eml")))
    setup.write("[[gardens]]\nname = ")
    daemon.send_signal(signal.SIGHUP)
    assert daemon.stderr is not None
    lines = []
    while "stays" not in (line := daemon.stderr.readline()) and line:
        lines.append(line)
    assert "stays" in line
    assert daemon.poll() is None
    code, _ = stop(daemon)
    assert code == 0


@pytest.mark.parametrize(("millimetres", "state"), [(12.7, "due"), (16.0, "due"), (20.0, "held")])
def test_today_holds_where_half_an_inch_is_likely(
    tmp_path: Path, service: FakeOpenMeteo, millimetres: float, state: str
) -> None:
    """Through the command line and the service's own stamping of hours.

    One forecast of half an inch comes true in under half the cases; a few more make it likely.
    """
    wet = {"rain_mm": millimetres, "rain_chance_percent": 80.0}
    service.set_weather(weather_with(rain=(RAIN_IN_H, wet)))
    (task,) = Setup(tmp_path, service.base_url).today_json()["tasks"]  # type: ignore[misc]
    assert (task["action"], task["state"]) == ("feed", state)
    assert task["total_g"] == pytest.approx(task["per_bale_g"] * 6, abs=0.5)


def test_today_with_a_freeze_ahead_names_the_number(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """The reason carries value, threshold, unit and moment."""
    service.set_weather(weather_with(night=(FREEZE_IN_H, {"temperature_c": -3.1})))
    document = Setup(tmp_path, service.base_url).today_json()
    (task,) = document["tasks"]  # type: ignore[misc]
    (reason,) = task["reasons"]
    assert (reason["code"], reason["value"], reason["threshold"], reason["unit"]) == (
        "freeze",
        -3.1,
        0.0,
        "degC",
    )
    assert "freeze" in [alert["code"] for alert in document["alerts"]]  # type: ignore[union-attr]


def test_today_without_a_forecast_tells_the_work_and_says_so(tmp_path: Path) -> None:
    """Nothing answers on the discard port: due, with the reason no-forecast."""
    document = Setup(tmp_path).today_json()
    (task,) = document["tasks"]  # type: ignore[misc]
    assert (task["state"], task["reasons"][0]["code"]) == ("due", "no-forecast")
    assert document["forecast"]["status"] == "missing"  # type: ignore[index]


def test_an_unusable_forecast_is_never_all_clear(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """A 200 with a broken body is no forecast."""
    service.fail(200, b'{"hourly": {"time": [')
    document = Setup(tmp_path, service.base_url).today_json()
    assert document["forecast"]["status"] == "missing"  # type: ignore[index]
    assert "no-forecast" in [alert["code"] for alert in document["alerts"]]  # type: ignore[union-attr]


@pytest.mark.parametrize("command", [("run", "--once"), ("today",), ("check",), ("ring",)])
def test_a_mistake_in_the_configuration_is_a_sentence(
    tmp_path: Path, command: tuple[str, ...]
) -> None:
    """Exit code 2, every mistake, no traceback, nothing written."""
    setup = Setup(tmp_path)
    setup.write('[[gardens]]\nname = "X"\nlatitude = 91\nlongitude = 8\ntime_zone = "CET0"\n')
    answer = setup.command(*command)
    assert answer.returncode == 2
    assert "Traceback" not in answer.stderr + answer.stdout
    assert "latitude" in answer.stderr
    assert "time_zone" in answer.stderr
    assert not (tmp_path / "state").exists()


def test_record_and_why_read_back_what_was_told(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """Missed is due again the next day; why shows the numbers of the day as told."""
    setup = Setup(tmp_path, service.base_url)
    assert setup.command("run", "--once").returncode == 0
    assert setup.command("record", "missed", "feed").returncode == 0
    tomorrow = (setup.today + timedelta(days=1)).isoformat()
    (task,) = setup.today_json("--at", f"{tomorrow}T06:30")["tasks"]  # type: ignore[misc]
    assert (task["key"], task["state"]) == ("row-a-5-feed", "due")
    why = setup.command("why", setup.today.isoformat())
    assert why.returncode == 0
    assert "row-a-5-feed" in why.stdout
    journal = setup.command("journal")
    assert "not done" in journal.stdout


def test_a_ring_reaches_every_channel(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """Mail and folder both get the test, and the command says what became of it."""
    with smtp_sink("none") as sink:
        extra = f'[folder]\npath = "{tmp_path / "notes"}"\n'
        setup = Setup(tmp_path, service.base_url, sink.port, extra)
        answer = setup.command("ring")
    assert answer.returncode == 0, answer.stdout + answer.stderr
    assert answer.stdout.count(": accepted") == 2
    assert len(sink.envelopes) == 1
    assert len(list((tmp_path / "notes").glob("*.eml"))) == 1


def test_check_tries_the_mail_server(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """Reachable is exit code 0, closed is exit code 1 with a sentence; no mail is sent."""
    with smtp_sink("none") as sink:
        setup = Setup(tmp_path, service.base_url, sink.port)
        open_answer = setup.command("check", "--connect")
    closed_answer = setup.command("check", "--connect")
    assert sink.envelopes == []
    assert (open_answer.returncode, closed_answer.returncode) == (0, 1)
    assert "email: well" in open_answer.stdout
    assert "email: not now" in closed_answer.stdout


def test_each_way_to_run_leaves_a_copy_of_the_store(tmp_path: Path, service: FakeOpenMeteo) -> None:
    """Of today, with the morning in it; also where nothing was told any more."""
    setup = Setup(tmp_path, service.base_url)
    copies = tmp_path / "state" / "backups"
    assert setup.command("run", "--once").returncode == 0
    (copy,) = copies.glob("*.db")
    with sqlite3.connect(copy) as kept:
        assert kept.execute("SELECT count(*) FROM journal WHERE kind = 'brief'").fetchone() == (1,)
    copy.unlink()
    daemon = setup.start()
    assert wait_until(lambda: any(copies.glob("*.db")))
    assert stop(daemon)[0] == 0
