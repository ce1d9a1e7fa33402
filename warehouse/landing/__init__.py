"""From the landing folder to raw: exports by their profiles, reference tables, and what a new academy starts with."""
