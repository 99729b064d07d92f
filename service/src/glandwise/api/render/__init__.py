"""Renderings of results for people: HTML, SVG, CSV."""
