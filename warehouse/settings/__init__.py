"""academy.toml: what may be set, and what is said of a wrong line."""
