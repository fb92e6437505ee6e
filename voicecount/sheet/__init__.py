"""YAML to a count sheet."""
