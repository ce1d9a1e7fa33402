"""Pure mathematics: arrays or frames in, arrays or frames out. No files, no database, no clock."""
