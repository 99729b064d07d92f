"""Dated, sourced design rules: model, loader, data."""
