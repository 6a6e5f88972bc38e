"""From rows to nouns: one module for each group of kinds that belong together."""
