"""Commands that only read: the yard, what is due, a book, what may be done, evidence.

Nothing here opens a register for writing; what a command writes belongs to `work`, `plan` or `keep`.
"""
