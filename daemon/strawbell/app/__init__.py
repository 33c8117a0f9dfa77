"""The order of things: the pipeline of a morning, the outbox, and the ports to the world."""
