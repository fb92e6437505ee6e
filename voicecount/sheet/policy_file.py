"""A hospital's policy in one file: written with its reasons, and read for every sheet beside it."""

import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import yaml

from voicecount.sheet.policy import Policy

POLICY_FILE = "policy.yaml"
"""Read for every sheet of its folder; what a sheet says itself comes first."""

_END = "...\n"
"""What YAML puts behind a plain value."""

_HEAD = """\
# Policy of counting for every sheet in this folder. What a sheet says under "policy:" comes first.
# Each value is a default with its reason and source. Local policy and licensed judgement decide.
"""


def policy_text(policy: Policy | None = None) -> str:
    """Write a policy as YAML, each field under its reason; the defaults without one."""
    values = (policy or Policy()).model_dump(mode="json")
    parts = [_HEAD]
    for name, field in Policy.model_fields.items():
        reason = textwrap.wrap(field.description or "", 96)
        lines = [f"# {line}" for line in reason]
        value = yaml.safe_dump(values[name], default_flow_style=True, width=90)
        lines.append(f"{name}: {value.removesuffix(_END).strip()}")
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def beside(sheet: Path) -> Path | None:
    """Give the policy file of a sheet's folder; None where there is none."""
    path = sheet.with_name(POLICY_FILE)
    return path if path.is_file() and path != sheet else None


def merged(base: Mapping[str, Any], own: object) -> object:
    """Put what a sheet says itself over the folder's policy."""
    return {**base, **own} if isinstance(own, Mapping) else own


_PAGE = """\
# The policy

Made by `voicecount policy --markdown`. Published rules of counting differ, so each is a setting
with a default on the careful side, its reason, and its source. None of them is law: local policy
and licensed judgement decide.

`voicecount policy > policy.yaml`, put beside your sheets, is one file for all of them; change what
your hospital does otherwise. What a sheet says under `policy:` comes first. `voicecount policy
SHEET` prints what holds for a sheet. Like the sheet, the policy is part of what a journal can be
resumed with.

| field | default | what it decides, why, and who says so |
|---|---|---|
"""


def markdown() -> str:
    """Give docs/policy.md."""
    values = Policy().model_dump(mode="json")
    rows = [
        f"| `{name}` | {_plain(values[name])} | {field.description} |\n"
        for name, field in Policy.model_fields.items()
    ]
    return _PAGE + "".join(rows)


def _plain(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(f"`{entry}`" for entry in value)
    return f"`{str(value).lower()}`"
