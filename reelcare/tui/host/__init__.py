"""What the app does for every screen beside showing it: who is at the terminal, what is told, the keys that work
everywhere, and what is looked at as it starts. No screen belongs here, and nothing here knows one but by its request.
"""
