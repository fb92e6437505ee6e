"""Sentences of caution that stand in more than one place: each is written here, and only here.

They say what a record is not. Whoever needs another subject puts it before ``NOT_REPLACED``.
"""

NOT_REPLACED = (
    "the team's own count, wound exploration or imaging, nor local policy and licensed judgement"
)
"""What nothing here takes the place of; it follows "does not replace"."""

NEVER_SAFE = "Nothing here says that it is safe to close"

SILENCE = "silence is never consent"

CALLED_CORRECT = "In most published cases of a retained item the count had been called correct."
"""Gawande 2003 and Cima 2008; the figures are in ``report/context.py``."""

MISHEARS = "The program can mishear, in quiet too"
