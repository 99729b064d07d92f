"""What load, torque, power and contact temperature does a running seal have? As a range."""
