"""The marker beside the store is written whole, and never through a link."""

from __future__ import annotations

from pathlib import Path

from strawbell.edges.store.safeguards import Marker, marker_path, read_marker, write_marker


def test_a_link_in_its_place_is_not_followed(tmp_path: Path) -> None:
    """Neither under the passing name nor under its own; the other file stays as it was."""
    precious, store = tmp_path / "precious", tmp_path / "s.db"
    precious.write_text("precious", encoding="ascii")
    target = marker_path(store)
    for name in (f"{target.name}.unfinished", target.name):
        (tmp_path / name).unlink(missing_ok=True)
        (tmp_path / name).symlink_to(precious)
        write_marker(store, Marker("a", 1, 2))
        assert read_marker(store) == Marker("a", 1, 2)
    assert precious.read_text(encoding="ascii") == "precious"
    assert target.stat().st_mode & 0o777 == 0o600
