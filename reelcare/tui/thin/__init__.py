"""Thin lines: what the terminal shows already is not sent to it again.

The rules of this room: `screen.py` takes the text that would be sent and gives the shortest that has the same
effect; `terminal.py` knows what the terminal shows, cell by cell; `pen.py`, `signs.py` and `talk.py` are what they need
for that. All of this is pure; `driver.py` alone stands between the framework and the terminal. What is not
understood is passed on as it is, and what it may have touched counts as unknown: it can cost bytes, never a right
picture.
"""
