"""Pictures made of characters, as widgets.

What they show is laid out by `core/drawing`.
"""
