"""Pictures: texts, charts and spreadsheets."""
