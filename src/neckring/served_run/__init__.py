"""The console of one run put together: book, desk, sensors, watch, estimate and pages."""
