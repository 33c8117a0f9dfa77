"""The promises of reliability, and which tests hold each of them to it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Promise:
    """One row: `tests` are paths below tests/, or the beginning of names in a file."""

    text: str
    tests: tuple[str, ...] = ()
    not_here: str = ""
    """What of the row has not been run on the machine of the figures."""


STORE = "faults/test_store_faults.py"
DAMAGED = "faults/test_damaged_stores.py"
SWEEP = "faults/test_kill_sweep.py"
OUTBOX = "unit/app/test_outbox.py"
HEADERS = "faults/test_header_injection.py"
PIPELINE = "unit/app/test_pipeline.py"
INCIDENTS = "unit/app/test_incidents.py"

PROMISES = {
    1: Promise(
        "killed anywhere, nothing is lost",
        (
            f"{SWEEP}::test_a_sample_of_kills",
            f"{SWEEP}::test_kills_around",
            f"{SWEEP}::test_a_kill_at_every_call",
            f"{SWEEP}::test_a_second_kill",
            "properties/test_outbox_machine.py",
            f"{STORE}::test_what_was_acknowledged",
            "faults/test_mending_killed.py",
        ),
        "a kill at every call of a mending (about 4,700; every twelfth is)",
    ),
    2: Promise(
        "a power cut leaves the state before or after a commit",
        (
            "faults/test_power_cut.py",
            "unit/edges/store/test_write_ahead.py",
            f"{DAMAGED}::test_a_harmed_write_ahead_file",
            f"{STORE}::test_commits_wait_for_the_disk",
        ),
        "a disk that loses what it confirmed (needs a file system in user space)",
    ),
    3: Promise("errors of the disk and the system lose nothing", ("faults/test_io_errors.py",)),
    4: Promise("a mail server that misbehaves is understood", ("faults/test_smtp_faults.py",)),
    5: Promise(
        "slow mail cannot stop the day",
        ("faults/test_slow_mail.py",),
    ),
    6: Promise(
        "retries are patient, few, and end in words",
        (
            f"{OUTBOX}::test_waits_grow",
            f"{OUTBOX}::test_a_dead_server",
            f"{OUTBOX}::test_a_server_that",
            f"{OUTBOX}::test_a_message_expires",
            f"{OUTBOX}::test_the_last_retry",
            f"{OUTBOX}::test_a_settings_problem",
            "unit/app/test_failures.py",
        ),
    ),
    7: Promise(
        "a forecast service that misbehaves never gives an all-clear",
        ("faults/test_weather_faults.py", "faults/test_parsers_survive.py"),
    ),
    8: Promise(
        "a full disk loses and doubles nothing",
        ("faults/test_full_disk.py", "unit/app/test_store_trouble.py"),
    ),
    9: Promise(
        "state that cannot be read or written is told with path and remedy",
        ("faults/test_refused_state.py",),
    ),
    10: Promise(
        "a damaged store is found, kept and mended",
        (
            DAMAGED,
            "unit/edges/store/test_legible.py",
            f"{INCIDENTS}::test_a_mended_store",
            f"{INCIDENTS}::test_an_incident",
            "faults/test_downtime.py::test_a_process_started_on_a_damaged",
        ),
    ),
    11: Promise(
        "a clock that jumps makes no double and no gap",
        (
            f"{OUTBOX}::test_a_clock_that_goes_back",
            f"{PIPELINE}::test_a_clock_put_back",
            f"{INCIDENTS}::test_a_jump",
            "faults/test_clock_jumps.py",
        ),
    ),
    12: Promise(
        "once a local day, through every change of the clocks",
        ("unit/season/test_local_time.py", "faults/test_zone_change.py"),
    ),
    13: Promise(
        "a suspend over the time costs minutes, not the reminder",
        ("faults/test_suspend.py",),
        "a real suspend",
    ),
    14: Promise(
        "after a downtime one catch-up, and a reason for each day missed",
        (
            f"{PIPELINE}::test_a_late_start",
            f"{PIPELINE}::test_ten_days_down",
            "faults/test_downtime.py::test_a_downtime",
        ),
    ),
    15: Promise(
        "of many daemons one works",
        (
            "faults/test_two_daemons.py",
            "unit/edges/door/test_lock.py",
            "end_to_end/test_daemon.py::test_a_second_daemon",
            f"{STORE}::test_a_row_claimed_by",
        ),
    ),
    16: Promise("a signal ends it in order", ("faults/test_termination.py",)),
    17: Promise(
        "mistakes in the configuration are told all at once",
        ("faults/test_config_mistakes.py", "properties/test_config_properties.py"),
    ),
    18: Promise(
        "no name steers a template or a screen",
        ("unit/words/test_injection.py", f"{HEADERS}::test_every_channel_renders"),
    ),
    19: Promise(
        "no text makes a header or a recipient",
        (
            f"{HEADERS}::test_every_form",
            f"{HEADERS}::test_every_message",
            f"{HEADERS}::test_sender_and",
            f"{HEADERS}::test_every_interpreter",
            "unit/edges/test_mime.py::test_no_text_makes",
            "unit/edges/test_mime.py::test_any_text_keeps",
            "unit/edges/test_mime.py::test_a_cleaned_header",
        ),
    ),
    20: Promise(
        "a hostile or automatic reply changes nothing",
        ("unit/edges/inbox/test_letters.py", "unit/app/test_answering.py"),
    ),
    21: Promise(
        "a desktop that is missing or hangs costs nothing",
        ("unit/edges/desktop/test_desktop.py", "faults/test_desktop_faults.py"),
    ),
    22: Promise(
        "a season of random faults loses nothing and does not grow", ("faults/test_long_run.py",)
    ),
    23: Promise("the tests notice deliberate faults", ("faults/test_mutants.py",)),
    24: Promise(
        "a daemon that hangs is noticed",
        ("unit/systemd/test_units.py::test_the_daemon_reports", "faults/test_watchdog.py"),
        "a restart by a running systemd",
    ),
}
