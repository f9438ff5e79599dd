"""Languages. Enters: an expanded campaign and `texts/LANG.yaml`; leaves: the campaign in that language."""
