"""A simulated shop-year with a hidden truth, and ways of ordering that are compared in it."""
