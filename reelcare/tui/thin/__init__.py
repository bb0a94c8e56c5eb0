"""Thin lines: what the terminal shows already is not sent to it again.

The rules of this room: `screen.py` knows what the terminal shows, cell by cell, and turns the text that would be sent
into the shortest that has the same effect; `pen.py`, `signs.py` and `talk.py` are what it needs for that, and none of
them knows a terminal or the framework; `driver.py` alone stands between the framework and the terminal. What is not
understood is passed on as it is, and what it may have touched counts as unknown: it can cost bytes, never a right
picture.
"""
