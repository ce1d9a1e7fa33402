"""What every page stands in: who reads, what is chosen, what is shown at a time."""
