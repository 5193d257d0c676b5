"""The kit: water, garment, reservoir, air, power, load."""
