"""A page of practice as one HTML file: nothing outside of it, a strict policy, texts escaped."""

import base64
import hashlib
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from voicecount.drill import svg
from voicecount.drill.view import MARKERS
from voicecount.report.marks import visible
from voicecount.show.console import clock_time

MAKER = "voicecount drill"
"""What a file says of itself."""
CAUTION = (
    "For practice and teaching only. The instructor judges; this page helps to see and to hear "
    "what was done. It says nothing about any patient, and it replaces no count of a team, no "
    "wound exploration, no imaging, no local policy and no licensed judgement."
)
AROUND = 0.5
"""Seconds that are played before and after a moment."""
_THEMED = {
    "ink": svg.INK,
    "quiet": svg.QUIET,
    "hair": svg.LINE,
    "fill": svg.FILL,
    "voice": svg.VOICE,
    "mark": svg.MARK,
    "paper": svg.PAPER,
}
"""Colours of the drawings, and what the style sheet calls them."""


def render(template: str, *, script: bool, **values: Any) -> str:
    """Fill in a template; ``script`` says whether the page has the one that plays moments."""
    css = _source("drill.css") + _colours()
    run = _source("drill.js") if script else ""
    policy = [
        "default-src 'none'",
        f"style-src '{_digest(css)}'",
        f"script-src '{_digest(run)}'" if script else "script-src 'none'",
        # a page from a disk has no origin of its own in every browser
        "media-src 'self' file:" if script else "media-src 'none'",
        "base-uri 'none'",
        "form-action 'none'",
    ]
    return (
        _templates()
        .get_template(template)
        .render(
            maker=MAKER,
            caution=CAUTION,
            css=Markup(css),  # noqa: S704 - a file of this package
            script=Markup(run),  # noqa: S704 - a file of this package
            policy="; ".join(policy),
            **values,
        )
    )


def percent(share: float | None) -> str:
    """Write a share; an n-dash where there is none."""
    return "\N{EN DASH}" if share is None else f"{100 * share:.0f} %"


def when(iso: str) -> str:
    """Write a moment of the day's clock as a person reads it."""
    return visible(iso).replace("T", " ").replace("+00:00", " UTC").replace("Z", " UTC")


@cache
def _templates() -> Environment:
    made = Environment(
        loader=PackageLoader("voicecount.drill"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(drawn=_drawn, time=clock_time, percent=percent, visible=visible, when=when)
    made.globals.update(shapes={row: svg.shape(marker) for row, marker in MARKERS.items()})
    return made


def _drawn(plot: svg.Plot) -> Markup:
    """Let a drawing through: this package made it, and its texts are outlines."""
    return Markup(plot.svg)  # noqa: S704 - see above


@cache
def _source(name: str) -> str:
    environment = _templates()
    loader = environment.loader
    if loader is None:
        raise LookupError(name)
    return loader.get_source(environment, name)[0]


def _colours() -> str:
    return "".join(
        f'figure svg [{kind}="{colour}"] {{ {kind}: var(--{name}); }}\n'
        for name, colour in _THEMED.items()
        for kind in ("fill", "stroke")
    )


def _digest(text: str) -> str:
    """Name a text as a policy does (Content Security Policy Level 3, 2.3.1: hash-source)."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"
