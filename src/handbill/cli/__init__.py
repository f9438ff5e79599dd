"""The command line: one file per command. Only here are exit codes set and words put on a terminal."""

from handbill.cli.main import console as main

__all__ = ["main"]
