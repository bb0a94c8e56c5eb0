"""Core values made into files that people and other programs read.

Nothing here reads a register or decides what is due.
"""
