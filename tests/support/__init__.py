"""What the tests share: builders, fakes, loopback servers."""
