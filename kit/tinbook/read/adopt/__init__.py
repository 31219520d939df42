"""Adopting: an unfolded solid of somebody else becomes a part that can be changed and made here."""
