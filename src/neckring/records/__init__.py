"""What is kept and shown of a run: the plan on a terminal, as JSON and as a page."""
