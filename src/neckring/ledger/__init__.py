"""The kit by serial: counts, cycles, faults, drying, go or no-go; pure folds over what was done."""
