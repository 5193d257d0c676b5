"""neckring: plan suited runs on real physics."""

__version__ = "0.1.0"
