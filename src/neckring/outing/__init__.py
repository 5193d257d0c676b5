"""Body and suit through time: scenario, kernel, limits, plan."""
