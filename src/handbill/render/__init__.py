"""Resolved mails made into HTML and text."""
