"""A drill as the text of its file. Pure."""

import textwrap

import yaml

from voicecount.drill.model import Drill

_WIDTH = 98


def drill_text(drill: Drill, head: str) -> str:
    """Write a drill as YAML that reads as the same drill; ``head`` is a remark above it."""
    values = drill.model_dump(mode="json", exclude_defaults=True)
    parts = [f"# {line}\n" for line in textwrap.wrap(head, _WIDTH)]
    for field, value in values.items():
        if field in {"table", "events"}:
            parts += [f"{field}:\n", *(f"  - {_flow(entry)}\n" for entry in value)]
        elif isinstance(value, dict):
            parts.append(f"{field}: {_flow(value)}\n")
        else:
            parts.append(_plain(field, value))
    return "".join(parts)


def _plain(field: str, value: object) -> str:
    text = yaml.safe_dump({field: value}, allow_unicode=True, width=_WIDTH)
    return str(text)


def _flow(entry: object) -> str:
    text = yaml.safe_dump(
        entry, sort_keys=False, allow_unicode=True, width=10_000, default_flow_style=True
    )
    return str(text).strip()
