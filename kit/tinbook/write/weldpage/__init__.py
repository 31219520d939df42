"""The weld and assembly page: pictures, numbered steps, weld marks, sequences, settings to fill in, cautions."""
