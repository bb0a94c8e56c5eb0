"""Commands for the day's work: checks, the set, what happened, what was measured.

What plans the weeks ahead belongs to `plan`, and what looks after the register to `keep`.
"""
