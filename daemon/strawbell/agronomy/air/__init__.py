"""The air over the bed: evaporation, humidity, radiation, frost dates."""
