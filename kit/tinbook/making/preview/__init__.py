"""The preview: triangles, edges and labels of a made part for the live view, without the geometry kernel."""
