"""Syntax tree to typed tree: names are looked up, definitions written out, types compared."""

from rulekit.language.checking.constants import stand_in
from rulekit.language.checking.context import Environment
from rulekit.language.checking.errors import CheckError, together, told_elsewhere
from rulekit.language.checking.statements import (
    check_definition,
    check_rule,
    constant,
    constant_set,
    fits,
)

__all__ = [
    "CheckError", "Environment", "check_definition", "check_rule", "constant", "constant_set", "fits", "stand_in",
    "together", "told_elsewhere",
]  # fmt: skip
