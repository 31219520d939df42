"""What changed from one revision to the next."""
