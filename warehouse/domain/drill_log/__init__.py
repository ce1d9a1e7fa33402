"""When drills really happened: what the log says held against the pauses between balls. Pure mathematics."""
