"""The first day of a register: spreadsheets looked at before they are brought, and when each item was last done.

What must not be here: screens and printing, and a second way to write what `spreadsheets` brings.
"""

from __future__ import annotations
