"""Consumables ledger, forecast, count and reorder list for a small shoe-repair shop."""

import os

# Our matrices are a few rows large: the numerical library's own threads would only wait on each other, and with
# several workers side by side they made an outlook take seven times as long. Read when it is first imported.
os.environ.setdefault("OMP_NUM_THREADS", "1")
