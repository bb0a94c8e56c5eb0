"""Walk-rounds: begin one, answer it, sign it.

What is asked and how it is judged belongs to `core/checks`.
"""
