"""What to expect of a seal in running beside its verdict."""
