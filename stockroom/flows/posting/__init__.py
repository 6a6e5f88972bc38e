"""Documents into the ledger: post, undo, correct; the only way in."""
