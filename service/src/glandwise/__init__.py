"""Glandwise: engineering of machined PTFE rotary shaft seals as a stateless service."""

__version__ = "0.1.0"
