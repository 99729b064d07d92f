"""Questions asked of the mechanics and the rules, one module each."""
