"""How fast does the lip wear, how long may it last? Always a range."""
