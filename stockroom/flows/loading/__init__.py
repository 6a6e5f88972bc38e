"""Files in, whole or not at all; lists and charts out."""
