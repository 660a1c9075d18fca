"""A job file becomes domain objects, or a list of faults."""
