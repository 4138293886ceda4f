"""Panels and bends: flat pattern, folded shape, solid and mesh of a sheet-metal part.

Heavy libraries are imported by the modules that need them, not here.
"""
