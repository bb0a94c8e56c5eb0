"""The only room that knows the database.

It takes and returns core values, never rows, and judges nothing.
"""
