"""The night: lanes of a field, which of them a machine takes next, and when.

The set of a lane comes from `settings`; the order is a plain rule over sets, moves and hours.
"""
