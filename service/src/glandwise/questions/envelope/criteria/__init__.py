"""One file a criterion: what it measures, its words, what it says when something is missing, its colour on a map."""
