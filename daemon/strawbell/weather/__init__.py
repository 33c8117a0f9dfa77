"""Judgement of a forecast: each stage returns reasons with their numbers. Pure."""
