"""One file per counting aid; the folder is scanned when asked."""
