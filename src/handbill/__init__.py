"""handbill compiles a declared e-mail into one that can be sent."""

__version__ = "0.1.0"
