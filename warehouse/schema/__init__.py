"""Columns, tables and metrics, each declared once: DDL, checks and dictionary are made from them."""
