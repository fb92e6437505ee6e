"""Words and what they mean: numbers, plurals, names, commands, the grammar, pronunciations."""
