"""The book itself: open it, set it up, check it, keep it safe, read it whole as of a moment."""
