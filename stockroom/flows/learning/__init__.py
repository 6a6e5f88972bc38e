"""Learning: what counts teach of recipes and losses, and what they propose."""
