"""What the app does for every screen beside showing it: who is at the terminal, and what is looked at as it starts. No
screen belongs here, and nothing here knows one but by its request.
"""
