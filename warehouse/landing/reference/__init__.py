"""Reference tables: read, checked, loaded."""
