"""How much runout does the lip take? The curve over speed, and the allowance at the speed of the duty."""
