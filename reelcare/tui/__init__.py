"""The only room that knows the terminal: screens and widgets over core values.

A screen shows and hands on; what it shows is computed in `core` and read by `register`.
"""
