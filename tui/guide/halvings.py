"""The row of halvings: how often the distance to the aim must still be halved to come inside the tolerance.

A bar in milligrams is full or empty nearly all the time, since dosing goes from grams to grains. Halvings
shrink one by one at every scale, and can be counted from two metres.
"""

import math

BLOCK = "■"
AIM = "·"
MOST = 24


def count(to_go: float, tolerance: float) -> int:
    """Count the halvings of a distance until it is no longer than the tolerance.

    n = ⌈log₂(|d| / t)⌉, and 0 inside

    Parameters
    ----------
    to_go
        Distance to the aim, d, in any unit of mass; negative when over.
    tolerance
        Half-width of the window around the aim, t, in the same unit; more than 0.

    Examples
    --------
    >>> [count(d, 0.5) for d in (0.5, 0.51, 1.0, 1.01, 10.0, -10.0)]
    [0, 1, 1, 2, 5, 5]
    """
    distance = abs(to_go)
    if distance <= tolerance * (1 + 1e-12):
        return 0
    return min(MOST, math.ceil(math.log2(distance / tolerance) - 1e-9))


def row(to_go: float, tolerance: float) -> str:
    """Draw the halvings: before the aim while it is under, behind it when over, the aim alone inside.

    >>> row(10.0, 0.5), row(0.2, 0.5), row(-1.5, 0.5)
    ('■■■■■ ·', '·', '· ■■')
    """
    blocks = BLOCK * count(to_go, tolerance)
    if not blocks:
        return AIM
    return f"{blocks} {AIM}" if to_go > 0 else f"{AIM} {blocks}"


def words(to_go: float, tolerance: float) -> str:
    """Say the same in words.

    >>> words(10.0, 0.5), words(0.2, 0.5), words(-0.8, 0.5)
    ('5 halvings under', 'inside', '1 halving over')
    """
    n = count(to_go, tolerance)
    if n == 0:
        return "inside"
    return f"{n} halving{'s' if n > 1 else ''} {'under' if to_go > 0 else 'over'}"
