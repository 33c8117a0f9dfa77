"""The same pipeline on recorded weather and a simulated clock."""
