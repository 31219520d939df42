"""Assemblies as shells: members meshed and joined by seams, plug welds and bolts, bought items as masses, contact."""
