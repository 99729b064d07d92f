"""One call for a quoting system."""
