"""The ground floor: mistakes, source spans, safe files, the per-user cache."""
