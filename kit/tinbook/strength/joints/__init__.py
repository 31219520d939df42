"""Joints held one by one against the rules of `calc`: forces at each, what it bears by which clause, what is not proved."""
