"""Reading: CSV and XLSX into checked nouns, whole or not at all."""
