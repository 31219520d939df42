"""Plane geometry: lines and arcs, closed loops of them, offsets, meeting points, many loops at once.

The one 2-D geometry that outlines, flat patterns and readers share. Arcs stay arcs; nothing is flattened
to chords unless a caller wants chords. No dependency but numpy.

>>> from tinbook.plane.loops import Edge, Loop
>>> half_disc = Loop((Edge((0.0, 0.0), (20.0, 0.0)), Edge((20.0, 0.0), (0.0, 0.0), bulge=1.0)))
>>> round(half_disc.area, 3)  # pi 10^2 / 2
157.08
"""
