"""One file per forecasting model; the folder is scanned when asked."""
