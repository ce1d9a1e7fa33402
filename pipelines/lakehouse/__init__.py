"""Dagster for a home on the lakehouse: one run a site, then one that publishes. One machine: the folder above."""
