"""Long texts of sheets, cut where they would push the rest off the board. Pure."""

LONGEST = 72
"""Characters of a text that are shown; a longer one is cut with a mark."""


def short(text: str, longest: int = LONGEST) -> str:
    """Cut a long text, with a mark; control characters become blanks."""
    plain = "".join(one if one.isprintable() else " " for one in text)
    return plain if len(plain) <= longest else f"{plain[: longest - 1]}…"
