"""The search for beads that stiffen a panel: candidates, their analysis, the table of the best."""
