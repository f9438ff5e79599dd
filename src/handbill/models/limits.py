"""How long texts may be, in characters. Numbers alone: the stages that hold texts to them come later."""

from __future__ import annotations

MAX_LABEL = 60  # of a button
MAX_ALT = 250  # a longer one is a passage for the copy (common practice)
BEST_SUBJECT = 60  # what a desktop's list of mails shows (common practice)
BEST_PREHEADER = 90  # the most that lists of mails show after a subject (common practice)
