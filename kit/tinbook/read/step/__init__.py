"""Unfolding solids of others: faces of a STEP file laid flat, the flat folded back and held against the solid.

Knows the ground and `calc` only, so that it can serve as an independent check of `making`.
"""
