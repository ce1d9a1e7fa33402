"""One file, one check: a select of the rows at fault, with severity, meaning and table in its first two lines."""
