"""Scans: meshes and point clouds read from files, aligned, measured, and their rims drawn as outlines."""
