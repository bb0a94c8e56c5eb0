"""The rules of this room: pictures made of characters, and the words under them.

Pure: values in, rows of characters out. Every character carries a tag that says what it belongs to (a part,
the hose, the way walked), so that a face can colour it; without colours every picture can still be read.
Nothing here knows a terminal.
"""
