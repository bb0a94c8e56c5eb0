"""The app in a browser: the server, its sessions and its page.

No screen knows of it.
"""
