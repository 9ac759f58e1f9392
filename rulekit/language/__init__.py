"""The rule language: text to syntax tree to resolved and typed rules."""
