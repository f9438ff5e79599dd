"""Reports: what preflight found, worded for people and for programs."""
