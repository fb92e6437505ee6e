"""What a person reads after a rehearsal: one HTML file with nothing outside it."""

from collections.abc import Iterator, Sequence
from html import escape

from voicecount.rehearse.alike import CLOSE, Pair
from voicecount.rehearse.heatmap import heatmap
from voicecount.rehearse.learned import Learnt
from voicecount.rehearse.proposals import propose
from voicecount.rehearse.takes import Rehearsal, Take

_STYLE = """
body{font:15px/1.5 system-ui,sans-serif;color:#1d2430;max-width:72rem;margin:2rem auto;
padding:0 1rem}
h1{font-size:1.5rem;margin-bottom:.2rem}h2{font-size:1.15rem;margin-top:2rem}
table{border-collapse:collapse;width:100%;font-size:.9rem}
th,td{text-align:left;padding:.3rem .6rem;border-bottom:1px solid #d5d9e0;vertical-align:top}
th{border-bottom:2px solid #1d2430}td.n{text-align:right;white-space:nowrap}
.refused{border:2px solid #9c1c1c;padding:.6rem 1rem;color:#6d1111}
.hard{background:#fff3dc}code{font-size:.85rem}svg{max-width:100%;height:auto}
p.small,figcaption{font-size:.85rem;color:#4a5361}figure{margin:1rem 0}
@media print{body{margin:0;max-width:none;font-size:11px}tr,figure{break-inside:avoid}}
"""
_CAPTION = (
    "<figcaption>Every two lines of the sheet: the darker, the closer their closest names sound. "
    "A ring: the line at the left was heard as the line above it at least once.</figcaption>"
)
_SHOWN_PAIRS = 40


def page(rehearsal: Rehearsal, learned: Sequence[Learnt], refused: str | None) -> str:
    """Write the page. ``refused`` is the line that refuses the sheet, if it was."""
    title = escape(f"Rehearsal: {rehearsal.sheet.title}")
    parts = [
        "<!DOCTYPE html>",
        f'<html lang="en"><head><meta charset="utf-8"><title>{title}</title>',
        '<meta name="viewport" content="width=device-width,initial-scale=1">',
        f"<style>{_STYLE}</style></head><body>",
        f"<h1>{title}</h1>",
        *_summary(rehearsal, refused),
        "<h2>Names that sound alike</h2>",
        *_pairs(rehearsal),
        f"<figure>{heatmap(rehearsal)}{_CAPTION}</figure>",
        "<h2>Every line</h2>",
        *_lines(rehearsal),
        "<h2>What was learned</h2>",
        *_learned(learned),
        *_not_kept(rehearsal),
        "</body></html>",
    ]
    return "\n".join(parts) + "\n"


def _summary(rehearsal: Rehearsal, refused: str | None) -> Iterator[str]:
    takes = rehearsal.takes
    if refused is not None:
        yield f'<p class="refused">{escape(refused)}</p>'
    if not takes:
        yield "<p>Nothing was listened to: two lines have names that sound the same.</p>"
        return
    before, after = (
        sum(take.right_before for take in takes),
        sum(take.right_after for take in takes),
    )
    yield (
        f"<p>{len(takes)} sayings in {len(rehearsal.voices)} voices, in "
        f"{rehearsal.seconds:.0f} seconds: {before} heard right before learning, {after} after. "
        "All voices are made by programs; people sound otherwise.</p>"
    )


def _pairs(rehearsal: Rehearsal) -> Iterator[str]:
    close = [pair for pair in rehearsal.pairs if pair.share < CLOSE]
    if not close:
        yield "<p>No two lines have names that sound nearly alike.</p>"
        return
    yield "<table><tr><th>name</th><th>sounds like</th><th>phones apart</th><th>proposal</th></tr>"
    for pair in close[:_SHOWN_PAIRS]:
        yield (
            f"<tr><td>{_name(pair.first_name, pair.first)}</td>"
            f"<td>{_name(pair.second_name, pair.second)}</td>"
            f'<td class="n">{round(100 * pair.share)} %</td><td>{_proposal(rehearsal, pair)}</td>'
            "</tr>"
        )
    yield "</table>"
    if len(close) > _SHOWN_PAIRS:
        yield f'<p class="small">and {len(close) - _SHOWN_PAIRS} pairs more</p>'


def _proposal(rehearsal: Rehearsal, pair: Pair) -> str:
    for line in (pair.second, pair.first):
        found = propose(rehearsal.sheet, rehearsal.names, line, pair)
        if found:
            return f"call {escape(line)} “{escape(found[0])}”"
    return ""


def _name(name: str, line: str) -> str:
    return f"{escape(name)} <code>{escape(line)}</code>"


def _lines(rehearsal: Rehearsal) -> Iterator[str]:
    yield (
        "<table><tr><th>line</th><th>best name</th><th>second-best</th><th>right before</th>"
        "<th>right after</th><th>also heard as</th><th>nearest line</th></tr>"
    )
    heard = rehearsal.heard_as()
    for item in rehearsal.sheet.items:
        takes = [take for take in rehearsal.takes if take.saying.item == item.id]
        ranked = _ranked(rehearsal, item.id)
        other = ", ".join(
            f"{line} ({times})"
            for line, times in sorted(heard.get(item.id, {}).items())
            if line != item.id
        )
        before = sum(take.right_before for take in takes)
        after = sum(take.right_after for take in takes)
        nearest = next(
            (pair for pair in rehearsal.pairs if item.id in {pair.first, pair.second}), None
        )
        near = ""
        if nearest is not None:
            near = nearest.second if nearest.first == item.id else nearest.first
            near = f"{near}, {round(100 * nearest.share)} %"
        hard = ' class="hard"' if after < len(takes) else ""
        yield (
            f"<tr{hard}><td><code>{escape(item.id)}</code></td>"
            f"<td>{escape(ranked[0])}</td>"
            f"<td>{escape(ranked[1]) if len(ranked) > 1 else ''}</td>"
            f'<td class="n">{before} of {len(takes)}</td><td class="n">{after} of {len(takes)}</td>'
            f"<td>{escape(other)}</td><td>{escape(near)}</td></tr>"
        )
    yield "</table>"


def _ranked(rehearsal: Rehearsal, line: str) -> list[str]:
    """Give a line's spoken names, the one that is heard best first."""

    def rank(place: int, one: str, many: str) -> tuple[float, float, int]:
        takes: list[Take] = [
            take
            for take in rehearsal.takes
            if take.saying.item == line and take.saying.written in {one, many}
        ]
        if not takes:
            return (0.0, 0.0, place)
        right = sum(take.right_after for take in takes) / len(takes)
        return (-right, -sum(take.after.margin for take in takes) / len(takes), place)

    say = rehearsal.sheet.item(line).say
    ranked = sorted((rank(at, one.one, one.many), one.one) for at, one in enumerate(say))
    return [name for _, name in ranked]


def _learned(learned: Sequence[Learnt]) -> Iterator[str]:
    if not learned:
        yield "<p>Nothing. Every name is heard as well without.</p>"
        return
    yield "<table><tr><th>name</th><th>also said</th><th>also written</th></tr>"
    for entry in learned:
        sounds = "<br>".join(
            escape(f"{word}: {', '.join(ways)}") for word, ways in entry.sounds.items()
        )
        spelled = "<br>".join(
            escape(f"{part}: {', '.join(texts)}") for part, texts in entry.spelled.items()
        )
        name = _name(entry.name, entry.item)
        yield f"<tr><td>{name}</td><td>{sounds}</td><td>{spelled}</td></tr>"
    yield "</table>"


def _not_kept(rehearsal: Rehearsal) -> Iterator[str]:
    if not rehearsal.refused:
        return
    yield "<details><summary>What was heard and not kept</summary><ul>"
    for name, reasons in sorted(rehearsal.refused.items()):
        yield f"<li>{escape(name)}: {escape('; '.join(reasons))}</li>"
    yield "</ul></details>"
