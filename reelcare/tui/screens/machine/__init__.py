"""One machine: its page, card, book, counters and steps.

Lists over all machines belong to the yard, `work` and `evidence`.
"""
