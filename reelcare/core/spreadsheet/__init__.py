"""Spreadsheets of people's own: a table of text, its columns matched to ours, and cells read without guessing.

What is ambiguous is a `Doubt`, which names a cell and what would settle it.
"""
