"""The first day: the start page, spreadsheets looked at and brought, last-done dates, people and machines by form.

What is read from a file, and what is written, the register does. What must not be here: the daily work on machines.
"""

from __future__ import annotations
