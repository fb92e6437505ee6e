"""A drawing's SVG without its file head, so that it can stand in a page, beside other drawings."""

import re

UNTOLD = dict.fromkeys(("Creator", "Date", "Format", "Type"))
"""What a file would say of when and by what it was drawn: the same drawing gives the same bytes."""


def bare(svg: str) -> str:
    """Give the element itself, without what stands before it, without comments and metadata."""
    body = re.sub(r"\s*<!--.*?-->", "", svg[svg.index("<svg") :], flags=re.DOTALL)
    return re.sub(r"\s*<metadata>.*?</metadata>", "", body, flags=re.DOTALL).strip()


def without_style_sheet(svg: str) -> str:
    """Take the style sheet out: what it asks for stands on the drawing itself.

    A style sheet would reach the whole page.
    """
    body = re.sub(r"<defs>\s*<style.*?</style>\s*</defs>", "", svg, count=1, flags=re.DOTALL)
    return body.replace("<svg ", '<svg stroke-linejoin="round" ', 1)


def with_names_of_its_own(svg: str, name: str) -> str:
    """Begin every id with a name that no other drawing in the page has."""
    body = re.sub(r'\bid="', f'id="{name}-', svg)
    return re.sub(r'(href="#|url\(#)', rf"\g<1>{name}-", body)
