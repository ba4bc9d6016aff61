"""From a recorded chess talk's transcript to the study file that goes with it."""

__version__ = "0.1.0"
