"""A job as a kit in somebody's hands: how it is fitted, and how it is packed."""
