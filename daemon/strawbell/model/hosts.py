"""Which hosts are this very machine; to them alone something may go in the clear."""

from __future__ import annotations

import ipaddress


def is_loopback(host: str) -> bool:
    """Return whether a host is this machine by its very name."""
    bare = host.strip("[]").lower()
    if bare == "localhost":
        return True
    try:
        return ipaddress.ip_address(bare.split("%", 1)[0]).is_loopback
    except ValueError:
        return False
