"""Reading entries and the states kept of them: queries, the cache, the reader.

Nothing here writes an entry; states are derived and can be rebuilt.
"""
