"""Physics: numbers or arrays in and out, no project types."""
