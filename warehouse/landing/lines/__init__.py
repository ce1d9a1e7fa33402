"""Bytes, physical lines and headers of text files, before anything is converted."""
