"""One adapter a forecast service, all giving the same hourly forecast."""
