"""The shared vocabulary: frozen, slotted values without opinions.

Units are SI (or the customary metric ones named in each field: g, L, mm, degC); times are
timezone-aware, kept in UTC unless a field says garden-local. `None` always means *unknown*.
"""
