"""Filling a valid campaign: facts, offers, money, dates and words in the language of the mail."""
