"""What lies in the rack, as values and as a file that remembers it."""
