"""Readings from sensors: taken in from anywhere, placed, converted, and judged."""
