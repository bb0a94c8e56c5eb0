"""Commands that look after the register: copies, carry files, proving, serving, the shell.

Nothing here says anything of one machine.
"""
