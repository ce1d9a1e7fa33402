"""Export profiles: what a file of one make means."""
