"""The wearer: anatomy, control, circulation, work, breath, surface."""
