"""Past one machine: sites' nights on DuckLake, written by many workers, published from one snapshot."""
