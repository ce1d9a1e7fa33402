"""One file, one table: the select, or for mathematics the Python, that makes it. The order: warehouse/model.py."""
