"""How much a broken rule weighs: one type for rules, findings, pages and searches."""

from enum import StrEnum


class Severity(StrEnum):
    """Worst first; only a fault makes an exercise wrong."""

    FAULT = "fault"
    WARNING = "warning"
    ADVICE = "advice"

    @property
    def usual_points(self) -> int:
        """What a finding costs where its rule does not say."""
        return {Severity.FAULT: 4, Severity.WARNING: 2, Severity.ADVICE: 0}[self]
