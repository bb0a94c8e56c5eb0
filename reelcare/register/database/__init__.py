"""The two databases of a register, behind one small interface.

`models` is the one definition of the tables, `base` what the rest of the register asks of a database, `sqlite` and
`postgres` the two engines, `steps` the upgrade of older registers, `opening` the only way to open one. Raw SQL stands
in the engines and in the released steps alone, each with its reason.
"""
