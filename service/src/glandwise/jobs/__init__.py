"""Long jobs over files: a corpus of past quotes, streamed through the vectorised core."""
