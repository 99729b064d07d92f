"""PTFE or not? Other kinds of seal that would do for a duty, or that are the sounder choice."""
