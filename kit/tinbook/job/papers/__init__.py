"""Papers of a job for the workshop: job card, cutting sheets, weld and assembly pages."""
