"""Money: what jobs earn, what a period comes to, and closing it."""
