"""The bench and the counter: tickets, sales, the shelf, and the day at a glance."""
