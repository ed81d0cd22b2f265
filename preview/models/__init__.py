"""Models: the mesh kernel and the solid kernel, which must agree."""
