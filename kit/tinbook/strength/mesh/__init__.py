"""The mesh of a made part: quadrilaterals over panels, bends and beads, fine at holes and feet."""
