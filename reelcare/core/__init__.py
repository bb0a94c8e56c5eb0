"""The rules of this room.

The core computes, and nothing else: standard library only, no files, no database, no screen, no clock.
Today, the entries and the card are arguments. Every public function gives its units and, where there is
one, the source of its equation. What is kept exactly is kept in whole numbers (seconds, millimetres,
pascals); physics is in SI floats.
"""
