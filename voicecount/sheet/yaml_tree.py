"""YAML as sheets, policies and drills are written: what hides a line's meaning is refused."""

from typing import Any

import yaml


class Loader(yaml.SafeLoader):
    """YAML without aliases and doubled fields: both hide what a line says."""

    def compose_node(self, parent: yaml.Node | None, index: Any) -> yaml.Node | None:
        """Give a node; MarkedYAMLError where an alias or a doubled field stands."""
        if self.check_event(yaml.AliasEvent):
            mark = self.peek_event().start_mark  # type: ignore[no-untyped-call]
            raise yaml.MarkedYAMLError(problem="write it out instead of '*'", problem_mark=mark)
        node: yaml.Node | None = super().compose_node(parent, index)
        if isinstance(node, yaml.MappingNode):
            seen: set[str] = set()
            for key, _ in node.value:
                if not isinstance(key, yaml.ScalarNode):
                    continue
                if key.value in seen:
                    what = f"field {key.value!r} stands twice; keep one"
                    raise yaml.MarkedYAMLError(problem=what, problem_mark=key.start_mark)
                seen.add(key.value)
        return node


def entry(node: yaml.Node | None, field: str) -> tuple[yaml.Node | None, yaml.Node | None]:
    """Give the key and the value of a field."""
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            if key.value == field:
                return key, value
    return None, None
