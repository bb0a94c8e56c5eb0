"""Drum, gun, hose, friction, the pressure along the line, uniformity: physics in SI units.

It knows no card and no set; what a set asks of a machine belongs to `settings`.
"""
