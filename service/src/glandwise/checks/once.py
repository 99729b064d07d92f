"""What is worked out once per rule set."""

from glandwise.rules.once import OncePerRuleSet

__all__ = ["OncePerRuleSet"]
