"""Checks of whole compiled mails by programs and standards that are not ours."""
