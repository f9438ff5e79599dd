"""Variants: one campaign patched into many."""
