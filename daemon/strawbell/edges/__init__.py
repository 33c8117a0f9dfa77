"""Thin adapters to the world; they decide nothing."""
