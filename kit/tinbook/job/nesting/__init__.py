"""Nesting: shapes as cells, the search over orders, layouts and their correction by hand."""
