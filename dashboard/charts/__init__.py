"""One chart a file: a frame in, a chart out."""
