"""The sheet's sound-alikes as a picture: a square for every two lines, in plain SVG."""

from collections.abc import Iterator
from html import escape

from voicecount.rehearse.takes import Rehearsal

_CELL = 11
_LABEL = 190
_TOP = 34
_KIND = (
    'role="img" xmlns="http://www.w3.org/2000/svg" font-family="system-ui,sans-serif" font-size="8"'
)
_FRAME = 'fill="none" stroke="#8a93a3" stroke-width=".5"'
_FAR = 0.75
"""Pairs further apart than this are left white."""


def heatmap(rehearsal: Rehearsal) -> str:
    """Give the SVG, with a text for those who do not see it."""
    lines = [item.id for item in rehearsal.sheet.items]
    lines += [line.id for line in rehearsal.sheet.not_counted]
    size = len(lines) * _CELL
    width, height = _LABEL + size + 4, _TOP + size + 4
    parts = [
        f'<svg viewBox="0 0 {width} {height}" {_KIND}>',
        "<title>How close the names of every two lines sound</title>",
        *_labels(lines),
        f'<rect x="{_LABEL}" y="{_TOP}" width="{size}" height="{size}" {_FRAME}/>',
        *_squares(rehearsal, {line: place for place, line in enumerate(lines)}),
        *_rings(rehearsal, {line: place for place, line in enumerate(lines)}),
        "</svg>",
    ]
    return "".join(parts)


def _labels(lines: list[str]) -> Iterator[str]:
    for place, line in enumerate(lines):
        at = _TOP + place * _CELL + _CELL - 3
        yield f'<text x="{_LABEL - 4}" y="{at}" text-anchor="end">{escape(line)} {place + 1}</text>'
        across = _LABEL + place * _CELL + _CELL / 2
        yield f'<text x="{across}" y="{_TOP - 4}" text-anchor="middle" font-size="6">'
        yield f"{place + 1}</text>"


def _squares(rehearsal: Rehearsal, places: dict[str, int]) -> Iterator[str]:
    for place in places.values():
        yield _square(place, place, "#d5d9e0", "")
    for pair in rehearsal.pairs:
        if pair.share < _FAR:
            colour = _colour(1 - pair.share / _FAR)
            said = f"{pair.first_name} / {pair.second_name}: {round(100 * pair.share)} % apart"
            one, other = places[pair.first], places[pair.second]
            yield _square(one, other, colour, said)
            yield _square(other, one, colour, said)


def _square(row: int, column: int, colour: str, said: str) -> str:
    x, y = _LABEL + column * _CELL, _TOP + row * _CELL
    title = f"<title>{escape(said)}</title>" if said else ""
    return (
        f'<rect x="{x}" y="{y}" width="{_CELL - 1}" height="{_CELL - 1}" fill="{colour}">'
        f"{title}</rect>"
    )


def _rings(rehearsal: Rehearsal, places: dict[str, int]) -> Iterator[str]:
    for said, counts in rehearsal.heard_as().items():
        for heard, times in counts.items():
            if heard != said:
                x = _LABEL + places[heard] * _CELL + (_CELL - 1) / 2
                y = _TOP + places[said] * _CELL + (_CELL - 1) / 2
                yield (
                    f'<circle cx="{x}" cy="{y}" r="3.4" fill="none" stroke="#10243f" '
                    f'stroke-width="1.6"><title>{escape(said)} heard as {escape(heard)}, '
                    f"{times} times</title></circle>"
                )


def _colour(closeness: float) -> str:
    """Go from nearly white over orange to dark red."""
    stops = ((255, 247, 236), (253, 187, 132), (179, 0, 0))
    low = min(int(closeness * 2), 1)
    part = closeness * 2 - low
    mixed = (round(a + (b - a) * part) for a, b in zip(stops[low], stops[low + 1], strict=True))
    return "#" + "".join(f"{value:02x}" for value in mixed)
