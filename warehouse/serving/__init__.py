"""What every web server of a home has in common: under which names it may be asked, and what its answers forbid."""
