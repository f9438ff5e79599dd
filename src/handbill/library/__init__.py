"""Blocks: found, read, their styles resolved once, their templates compiled and kept."""
