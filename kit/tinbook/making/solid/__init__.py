"""The solid: a made part as one boundary-represented body of the geometry kernel."""
