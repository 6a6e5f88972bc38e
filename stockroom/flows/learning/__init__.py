"""Learning: what counts say about actual usage of recipes and losses, and what they propose."""
