"""Rates of mixing as labels print them, in litres and gallons."""

from __future__ import annotations

import pytest

from strawbell.agronomy.feeds import parse_rate
from strawbell.model.feeds import FeedForm

LIQUID, SOLUBLE = FeedForm.LIQUID, FeedForm.SOLUBLE
# text, form, mL per L, g per L; by the definitions of NIST Handbook 44, Appendix C
RATES = [
    ("15 mL per L", LIQUID, 15.0, None),
    ("10 cc per liter", LIQUID, 10.0, None),
    ("10 millilitres per 2 ltr", LIQUID, 5.0, None),
    ("10 milliliters per litre", LIQUID, 10.0, None),
    ("1 l per 100 l", LIQUID, 10.0, None),
    ("1 teaspoon per gallon", LIQUID, 1000 / 768, None),
    ("1 tbs per cup", LIQUID, 1000 / 16, None),
    ("1 fluid ounce per pt", LIQUID, 1000 / 16, None),
    ("1 cup per 2 gal", LIQUID, 1000 / 32, None),
    ("1 pint per 10 quarts", LIQUID, 1000 / 20, None),
    ("1 qt per 10 gal", LIQUID, 1000 / 40, None),
    ("2 grammes per litre", SOLUBLE, None, 2.0),
    ("3 grams per litre", SOLUBLE, None, 3.0),
    ("1 kg per 100 l", SOLUBLE, None, 10.0),
    ("1 ounce per gallon", SOLUBLE, None, 28.349523 / 3.785411784),
    ("1 lb per 10 gal", SOLUBLE, None, 453.59237 / 37.85411784),
    ("1 pound per 10 gal", SOLUBLE, None, 453.59237 / 37.85411784),
    ("5ml/l", LIQUID, 5.0, None),
    ("10 ml in 4.5 litres of water", LIQUID, 2.2222, None),
    ("1 tbsp per gal", SOLUBLE, 1000 / 256, None),
    ("1 1/2 tsp. per quart", LIQUID, 1500 / 192, None),
    ("2 tablespoons to a gallon", LIQUID, 2000 / 256, None),
    ("1-2 tbsp per gal", LIQUID, 1000 / 256, None),
    ("1 oz per gal", LIQUID, 1000 / 128, None),
    ("1 oz per gal", SOLUBLE, None, 28.349523 / 3.785411784),
    ("1/2 fl oz per imperial gallon", LIQUID, 14.7868 / 4.54609, None),
    ("2 g per litre", SOLUBLE, None, 2.0),
    ("1:100", LIQUID, 10.0, None),
    ("0,5 %", SOLUBLE, None, 5.0),
]


@pytest.mark.parametrize(("text", "form", "ml_per_l", "g_per_l"), RATES)
def test_a_printed_rate_is_read(
    text: str, form: FeedForm, ml_per_l: float | None, g_per_l: float | None
) -> None:
    rate = parse_rate(text, form)
    assert (rate.ml_per_l is None, rate.g_per_l is None) == (ml_per_l is None, g_per_l is None)
    expected = ml_per_l or g_per_l
    assert (rate.ml_per_l or rate.g_per_l) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a splash",
        "1 scoop per gal",
        "1 tbsp per bucket",
        "1 tbsp",
        "15",
        "0 mL per L",
        "1:0",
        "1/0 tsp per gal",
        "150 mL per L",
    ],
)
def test_what_is_no_rate_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="rate"):
        parse_rate(text, LIQUID)
