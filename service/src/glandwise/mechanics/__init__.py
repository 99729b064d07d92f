"""Formulas of mechanics: plain functions of floats in SI, one module per piece of physics."""
