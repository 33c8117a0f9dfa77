"""The page of speed and size shows what the benchmarks came to."""

from __future__ import annotations

from support import speed


def test_the_page_is_what_was_measured() -> None:
    """`python tests/support/speed.py` measures and writes it anew."""
    _, _, rest = speed.PAGE.read_text(encoding="utf-8").partition(speed.BEGIN)
    shown, end, _ = rest.partition(speed.END)
    assert end
    assert shown.strip() == speed.page().strip()


def test_each_figure_is_of_a_benchmark_that_there_is_and_names_it() -> None:
    """One whose wording was changed, or whose test is gone, must not stay in the table."""
    kept = speed.load()
    rows = {**kept["figures"], **kept["curves"]}
    assert rows
    texts = {path.name: path.read_text("utf-8") for path in speed.BENCHMARKS.glob("test_*.py")}
    lost = [
        what for what, row in rows.items() if what.split(":")[0] not in texts.get(row["how"], "")
    ]
    assert lost == []


def test_a_figure_beyond_its_limit_is_none_that_is_held() -> None:
    """In every run, whether it is kept or not."""
    for limits in ({"most": 1.0}, {"least": 3.0}):
        try:
            speed.figure("a figure", 2.0, "starts", **limits)
        except AssertionError:
            continue
        raise RuntimeError(limits)
