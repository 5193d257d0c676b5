"""A wearer's measures held against a suit: clearances, settings, who else it would fit."""
