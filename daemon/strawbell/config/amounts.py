"""Amounts in a message about the configuration, in the grower's units."""

from __future__ import annotations

from strawbell.model.garden import Units

L_PER_GALLON = 3.785411784
G_PER_OUNCE = 28.349523125
OUNCES_OF_A_POUND = 16
G_PER_KG = 1000.0


def litres_said(litres: float, units: Units) -> str:
    """Return a volume of water [L] as "3.6 L" or "1 gal"."""
    if units is Units.US:
        return f"{litres / L_PER_GALLON:.1f} gal"
    return f"{litres:.1f} L"


def grams_said(grams: float, units: Units) -> str:
    """Return a mass [g] in g and kg, or oz and lb."""
    if units is Units.US:
        ounces = grams / G_PER_OUNCE
        return f"{ounces:.1f} oz" if ounces < OUNCES_OF_A_POUND else f"{ounces / 16:.1f} lb"
    return f"{grams:.0f} g" if grams < G_PER_KG else f"{grams / G_PER_KG:.1f} kg"
