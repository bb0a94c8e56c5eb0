"""The driver for thin lines, which writes down what it was given and what it sent.

It is loaded by name in the process of the app; the variable RECORD names the file. A line of it is the size, the text
that came, and the text that went out.
"""

import json
import os

from reelcare.tui.thin.driver import ThinDriver


class Recorded(ThinDriver):
    """The driver, with a witness."""

    def _thinned(self, data: str) -> str:
        text = super()._thinned(data)
        with open(os.environ["RECORD"], "a") as file:
            file.write(json.dumps([self._screen.size, data, text]) + "\n")
        return text
