"""The console's pages and its interface for other programs."""
