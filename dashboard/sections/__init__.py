"""Parts that more than one page shows."""
