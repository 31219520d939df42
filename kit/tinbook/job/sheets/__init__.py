"""Nested sheets to the cutter: order of cuts, time, remaining offcuts, files and labels."""
