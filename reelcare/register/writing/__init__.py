"""The one way in: drafts judged, chained and written in one transaction.

What people do is spelt out in `acts`, which write through the writer.
"""
