"""What a sealed solution becomes when some of its solvent escapes."""

from math import hypot

from store.calc.guard import not_negative, positive
from store.errors import OutOfRange


def concentrated(
    *, value: float, u: float, content_mg: float, loss_mg: float, u_loss_mg: float
) -> tuple[float, float]:
    """Concentration after solvent alone has escaped, with its standard uncertainty.

    w' = w · m / (m − l);   (u'/w')² = (u/w)² + (u_l / (m − l))²

    The solute stays, so that w·m does. For a mass fraction this is exact; for a concentration by volume or a
    molality it holds as far as the solution's density is that of its solvent. If liquid leaked, w does not
    change: the truth lies between w and w'.

    Parameters
    ----------
    value, u
        Concentration before, w, and its standard uncertainty, in one unit. [1]_
    content_mg
        Mass of the solution before, m [mg].
    loss_mg, u_loss_mg
        Mass that escaped, l, and its standard uncertainty [mg].

    Examples
    --------
    10 g of 1.000 mg/g that lost 50.0 mg of water:

    >>> w, u = concentrated(value=1.0, u=0.003, content_mg=10_000, loss_mg=50, u_loss_mg=0.2)
    >>> round(w, 6), round(u, 6)
    (1.005025, 0.003015)

    Raises
    ------
    OutOfRange
        More was lost than there was, or a figure below zero.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2: law of propagation, the two inputs uncorrelated; conservation of the solute.
    """
    for figure, name in (
        (value, "concentration"),
        (u, "uncertainty"),
        (u_loss_mg, "uncertainty of the loss"),
    ):
        not_negative(figure, name)
    positive(content_mg, "content", "mg")
    if not_negative(loss_mg, "loss", "mg") >= content_mg:
        raise OutOfRange("The loss is as large as the content, or larger: weigh again.")
    left = content_mg - loss_mg
    now = value * content_mg / left
    return now, now * hypot(u / value if value else 0.0, u_loss_mg / left)
