"""Numbers of the station corrected from logged runs, with bands; nothing is applied here."""
