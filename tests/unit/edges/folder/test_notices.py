"""The folder of notices."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from strawbell.edges.folder import FolderChannel, file_name
from strawbell.model.notice import NoticeKind, OutboxRow, OutboxState, Outcome

NOW = datetime(2027, 4, 9, 4, 30, tzinfo=UTC)


def row(**changes: object) -> OutboxRow:
    plain = OutboxRow(
        unique_key="k1",
        channel="folder",
        recipient="folder",
        message_id="<k@strawbell.invalid>",
        body=b"Subject: feed\r\n\r\n500 g\r\n",
        subject="feed",
        garden="Orchard corner",
        local_date=date(2027, 4, 9),
        kind=NoticeKind.MORNING,
        state=OutboxState.SENDING,
        attempts=1,
        created_at=NOW,
        next_attempt_at=NOW,
        expires_at=NOW,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_a_notice_becomes_a_file_named_for_day_garden_and_kind(tmp_path: Path) -> None:
    """The name sorts by date; the bytes are the frozen ones; nobody else may read it."""
    folder = tmp_path / "deep" / "notices"
    assert FolderChannel(folder).send(row()).outcome is Outcome.ACCEPTED
    (file,) = folder.iterdir()
    mark = hashlib.sha256(b"k1").hexdigest()[:10]
    assert file.name == f"2027-04-09-orchard-corner-morning-{mark}.eml"
    assert file.read_bytes() == row().body
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_the_same_message_is_the_same_file(tmp_path: Path) -> None:
    """A repeated attempt replaces the file; another key makes another one."""
    channel = FolderChannel(tmp_path)
    for _ in range(3):
        channel.send(row())
    channel.send(row(unique_key="k2"))
    assert len(list(tmp_path.iterdir())) == 2


@pytest.mark.parametrize(
    "garden", ["../../etc", "/etc/passwd", "..", ".", "a/b", "a\0b", "\ud800", "🌱", "", "x" * 999]
)
def test_no_garden_name_leads_out_of_the_folder(tmp_path: Path, garden: str) -> None:
    """Whatever the name, there is one ordinary file inside."""
    folder = tmp_path / "notices"
    assert FolderChannel(folder).send(row(garden=garden)).outcome is Outcome.ACCEPTED
    assert [path.name for path in tmp_path.iterdir()] == ["notices"]
    (file,) = folder.iterdir()
    assert file.is_file()
    assert len(file.name) < 100


def test_a_link_in_the_way_is_replaced_and_not_followed(tmp_path: Path) -> None:
    """What the link points to stays untouched."""
    folder, treasure = tmp_path / "notices", tmp_path / "treasure"
    treasure.write_text("gold", encoding="ascii")
    folder.mkdir()
    name = file_name(row())
    (folder / name).symlink_to(treasure)
    (folder / f".{name}.unfinished").symlink_to(treasure)
    assert FolderChannel(folder).send(row()).outcome is Outcome.ACCEPTED
    assert treasure.read_text(encoding="ascii") == "gold"
    assert (folder / name).read_bytes() == row().body
    assert not (folder / name).is_symlink()


def test_a_leftover_of_a_crash_does_not_block_the_next_attempt(tmp_path: Path) -> None:
    """The unfinished file is replaced and goes."""
    (tmp_path / f".{file_name(row())}.unfinished").write_bytes(b"half")
    assert FolderChannel(tmp_path).send(row()).outcome is Outcome.ACCEPTED
    assert [path.name for path in tmp_path.iterdir()] == [file_name(row())]


def test_a_folder_that_is_a_file_is_for_the_grower_to_mend(tmp_path: Path) -> None:
    """The message is kept, and the sentence names the path."""
    place = tmp_path / "notices"
    place.touch()
    delivery = FolderChannel(place).send(row())
    assert (delivery.outcome, delivery.settings_problem) == (Outcome.LATER, True)
    assert str(place) in delivery.detail


@pytest.mark.parametrize(
    ("code", "own"),
    [(errno.ENOSPC, True), (errno.EIO, True), (errno.EMFILE, True), (errno.EROFS, False)],
)
def test_a_disk_that_fails_for_now_is_a_trouble_of_the_machine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, own: bool
) -> None:
    """It is tried again soon; what the grower has to mend waits for the hour."""

    def fails(descriptor: int) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "fsync", fails)
    delivery = FolderChannel(tmp_path / "notices").send(row())
    assert delivery.outcome is Outcome.LATER
    assert delivery.own_trouble is own
    assert delivery.settings_problem is not own
