"""What the workshop has: frozen values, and commented TOML that they are read from."""
