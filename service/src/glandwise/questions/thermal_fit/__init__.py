"""What temperature does to the fits of a seal: lip on shaft, body in bore, energizer in its space."""
