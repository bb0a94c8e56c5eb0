"""The first day: the start page, spreadsheets looked at and brought, last-done dates, people and machines by form."""

from __future__ import annotations
