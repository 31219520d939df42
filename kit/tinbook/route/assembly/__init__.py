"""The order in which an assembly is put together, and what must be reached while it is."""
