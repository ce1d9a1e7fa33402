"""A run from its start to its outcome, on one machine or on the lakehouse."""
