"""The agronomy: pure, cited, SI."""
