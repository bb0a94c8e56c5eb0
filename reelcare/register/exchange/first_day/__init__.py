"""The first day of a register: spreadsheets looked at before they are brought, and when each item was last done."""

from __future__ import annotations
