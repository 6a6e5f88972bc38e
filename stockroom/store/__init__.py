"""Memory: the schema and one gateway per noun; the only place with SQL."""
