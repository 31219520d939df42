"""Reading DXF: entities, loose ends and splinters become closed loops of lines and arcs, each change listed."""
