"""What a full disk does not take of the answers of forecast services is held in memory."""

from __future__ import annotations

from datetime import UTC, datetime

from strawbell.app.ports import CachedAnswer
from strawbell.edges.forecasts.http import MOST_ANSWERS, PatientCache
from strawbell.errors import OperationalError
from strawbell.wiring import MemoryCache

NOW = datetime(2027, 4, 9, tzinfo=UTC)


class Disk(MemoryCache):
    """A cache on a disk that may be full."""

    is_full = False

    def keep(self, answer: CachedAnswer) -> None:
        """Take an answer when there is room."""
        if self.is_full:
            raise OperationalError("The disk is full.")
        super().keep(answer)


def answer(url: str, body: bytes) -> CachedAnswer:
    return CachedAnswer(url, None, None, NOW, NOW, body)


def test_an_answer_that_the_disk_refuses_is_still_known() -> None:
    """Else a service that wished to be left alone would be asked at every beat."""
    disk = Disk()
    cache = PatientCache(disk)
    cache.keep(answer("pause", b"old"))
    disk.is_full = True
    cache.keep(answer("pause", b"new"))
    held = cache.load("pause")
    assert held is not None
    assert held.body == b"new"


def test_the_disk_has_the_last_word_once_it_takes_answers_again() -> None:
    """Another process may have kept a newer one there."""
    disk = Disk()
    cache = PatientCache(disk)
    disk.is_full = True
    cache.keep(answer("pause", b"held"))
    disk.is_full = False
    cache.keep(answer("pause", b"kept"))
    disk.keep(answer("pause", b"newer"))
    read = cache.load("pause")
    assert read is not None
    assert read.body == b"newer"


def test_memory_stays_bounded_and_keeps_the_newest() -> None:
    """A season on a full disk costs no more than a day."""
    disk = Disk()
    disk.is_full = True
    cache = PatientCache(disk)
    urls = [f"answer {number}" for number in range(MOST_ANSWERS * 3)]
    for url in urls:
        cache.keep(answer(url, b""))
    assert [url for url in urls if cache.load(url) is not None] == urls[-MOST_ANSWERS:]
