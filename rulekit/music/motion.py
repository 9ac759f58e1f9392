"""How two voices move together: contrary, oblique, similar, parallel, or not at all."""

from enum import StrEnum

from rulekit.music.pitch import Pitch, step


class Motion(StrEnum):
    """The five kinds; they exclude each other (parallel motion is not also similar)."""

    CONTRARY = "contrary"
    OBLIQUE = "oblique"
    SIMILAR = "similar"
    PARALLEL = "parallel"
    NONE = "none"


def motion(upper: Pitch, lower: Pitch, next_upper: Pitch, next_lower: Pitch) -> Motion:
    """The motion of two voices from one moment to the next.

    Parallel is motion in one direction that keeps the generic size of the interval.
    Source: Fux, Gradus ad Parnassum (1725), the rules of motion, names direct, contrary and oblique (from memory);
    parallel and "none" are common practice, no source.
    """
    up, low = next_upper - upper, next_lower - lower
    if up == 0 and low == 0:
        return Motion.NONE
    if up == 0 or low == 0:
        return Motion.OBLIQUE
    if (up > 0) != (low > 0):
        return Motion.CONTRARY
    same_size = step(next_upper) - step(next_lower) == step(upper) - step(lower)
    return Motion.PARALLEL if same_size else Motion.SIMILAR
