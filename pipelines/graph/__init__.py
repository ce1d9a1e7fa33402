"""The Dagster graph: assets, checks, partitions, resources, schedules."""
