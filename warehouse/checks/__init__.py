"""One file, one check: a select of the rows at fault; first severity and meaning, then its table, then what to do."""
