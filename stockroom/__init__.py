"""Consumables ledger, forecast, count and reorder list for a small shoe-repair shop."""
