"""The lesson notebook: what a coach taps, and what comes of it."""
