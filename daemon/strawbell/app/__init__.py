"""The order of things: the cycle of a garden, the outbox, and the ports to the world."""
