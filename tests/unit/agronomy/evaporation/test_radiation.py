"""Claims about the radiation that reaches the ground."""

from __future__ import annotations

import pytest

from strawbell.agronomy.evaporation import cloud_clearness, longwave_factor


@pytest.mark.parametrize(
    ("cloud_percent", "share"), [(0.0, 1.0), (50.0, 0.929), (87.5, 0.524), (100.0, 0.25)]
)
def test_clouds_take_more_the_closer_they_are(cloud_percent: float, share: float) -> None:
    """Kasten and Czeplak 1980 by hand: 1 - 0.75 N^3.4; half a cover takes little."""
    assert cloud_clearness(cloud_percent) == pytest.approx(share, abs=0.0005)


def test_an_overcast_sky_keeps_the_warmth() -> None:
    """Long-wave loss falls with cloud and with humidity."""
    clear = longwave_factor(1.0, 1.0)
    assert longwave_factor(1.0, 0.3) < clear / 10.0
    assert longwave_factor(1.5, 1.0) < clear
