"""Colours as numbers: reading them, contrast between them, and what dark screens make of them."""
