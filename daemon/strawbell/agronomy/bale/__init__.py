"""One bale: straw, water, nitrogen and heat."""
