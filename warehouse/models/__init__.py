"""One file, one table: the select, or for mathematics the Python, that makes it. Order: warehouse/build/model.py."""
