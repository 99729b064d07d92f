"""What does it take to machine a number of seals from tube or rod: blank, mass, yield, features."""
