"""The settings of one set: what is wanted, and what holds.

What is computed belongs to `core/settings`.
"""
