"""The sheet for the bench as PDF: drawing, tables, setting-out, order of work."""
