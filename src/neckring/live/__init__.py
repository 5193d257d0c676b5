"""The day itself: the log book, the run as it goes, sensors, the live estimate, rehearsal."""
