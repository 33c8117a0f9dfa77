"""The folder of a rehearsal: only what a rehearsal wrote is ever cleared from it."""

from __future__ import annotations

import json
from pathlib import Path

from strawbell.app.word import refusal
from strawbell.model.garden import Garden
from strawbell.model.journal import Journal
from strawbell.model.names import slug
from strawbell.season.local_time import zone_of
from strawbell.words.catalogue import BRITISH
from strawbell.words.json_v1 import journal_json

SIGN = "strawbell-rehearsal.txt"
"""Lies in a folder whose notices, reports and journals are a rehearsal's own."""
OWN = ("*.eml", "report*.html", "journal*.jsonl")
"""What a rehearsal writes."""


class RehearsalFolder:
    """Where the report, the journal and the notices of a rehearsal go."""

    def __init__(self, path: Path) -> None:
        """Name the folder; nothing is touched yet."""
        self.path = path

    def prepare(self) -> None:
        """Make the folder, or clear it of an earlier rehearsal; anybody else's is refused."""
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            sign = self.path / SIGN
            if not sign.exists() and any(self.path.iterdir()):
                said = BRITISH.say("rehearse.folder-of-others")
                raise refusal(said, "--out", str(self.path))
            sign.write_text(BRITISH.say("rehearse.sign") + "\n", encoding="utf-8")
            for pattern in OWN:
                for old in self.path.glob(pattern):
                    old.unlink()
        except OSError as error:
            said = BRITISH.say("written.not", error=str(error.strerror or error))
            raise refusal(said, "--out", str(self.path)) from error

    def write(self, garden: Garden, journal: Journal, page: str, *, alone: bool) -> None:
        """Write the report of a garden, and its journal a row a line."""
        mark = "" if alone else f"-{slug(garden.name)}"
        (self.path / f"report{mark}.html").write_text(page, encoding="utf-8")
        rows = journal_json(journal, zone_of(garden.place.time_zone))
        lines = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
        (self.path / f"journal{mark}.jsonl").write_text(lines, encoding="utf-8")
