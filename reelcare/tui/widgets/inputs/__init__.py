"""What a person types or chooses: fields, choices, ticks and dialogs.

None of them writes; an answer goes to the screen by a message or a result.
"""
