"""The screens of the app, one a file, each opened by a typed request.

No screen imports another, judges a machine or writes but through its host.
"""
