"""What the crops are, when they come up and ripen, what they stand."""
