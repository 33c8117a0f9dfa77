"""The same cycle on recorded weather and a simulated clock."""
