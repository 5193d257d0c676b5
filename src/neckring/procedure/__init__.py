"""Procedures as models: kit, moves and steps made exact, proved, timed and weighed."""
