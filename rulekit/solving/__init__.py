"""The solution space of a ruleset: every line it allows, computed from the monitors that mark."""
