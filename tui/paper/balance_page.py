"""A balance's health as lines: may it weigh, how small a sample, how its checks went, what was done to it."""

from collections.abc import Iterator, Sequence
from datetime import datetime, tzinfo

from store.calc.chart import Signal
from store.procedure.balance_checks import CheckState
from store.queries.balances import CheckRow, Health
from store.units import figure, signed

CHART_WIDTH = 41
"""Columns of a drawn chart, the mean in the middle."""


def lines(found: Health, *, zone: tzinfo | None) -> Iterator[str]:
    """Give the whole page."""
    row = found.row
    word = "MAY WEIGH" if found.standing.state == CheckState.STANDS else "DOES NOT WEIGH"
    if found.standing.state == CheckState.NO_WEIGHT:
        word = "CANNOT BE CHECKED"
    yield f"{word}: {found.standing.why}"
    yield f"{found.name}, stands in {row.get('enclosure') or 'no enclosure of the register'}"
    yield ""
    sd = f"{figure(found.sd_mg, 4)} mg" if found.sd_mg is not None else "not measured"
    yield f"repeatability s    {sd}   from {found.sd_from}"
    yield f"minimum weight     {figure(found.minimum_mg, 4)} mg, net, in this place, never rounded down"
    yield f"readability        {row['readability']}, capacity {row['capacity']}"
    if row.get("check_mass"):
        of = ", ".join(
            f"{name} {row[key]}" for name, key in (("class", "check_class"), ("U", "check_u")) if row.get(key)
        )
        limit = f" ± {row['check_limit']}" if row.get("check_limit") else ", no limit"
        yield f"check weight       {row['check_mass']}{limit}{'; ' + of if of else ''}"
    yield from _certificate(found)
    for a in found.adjustments[:3]:
        air = f", gas {figure(a.air_kg_m3, 5)} kg/m3" if a.air_kg_m3 else ""
        note = f"; {a.note}" if a.note else ""
        yield f"adjusted           {_at(a.at, zone)} by {a.person}: {a.how}{air}{note}"
    yield ""
    yield from chart(found, zone=zone)
    if found.measured:
        yield ""
        yield "ten weighings or more, newest first"
    for m in found.measured[:5]:
        load = f", load {m.load}" if m.load else ""
        yield (
            f"  {_at(m.at, zone)}  s {figure(m.sd_mg, 4)} mg, n {len(m.weighings)}{load}, "
            f"{m.enclosure or 'no enclosure'}, {m.person}"
        )


def _certificate(found: Health) -> Iterator[str]:
    row = found.row
    if row.get("calibrated") or row.get("certificate") or row.get("calibration_u"):
        due = f", due {row['calibration_due']}" if row.get("calibration_due") else ""
        name = f", certificate {row['certificate']}" if row.get("certificate") else ""
        yield f"calibrated         {row.get('calibrated') or 'no date'}{due}{name}"
    if row.get("calibration_u"):
        yield f"U by load, k = 2   {'; '.join(row['calibration_u'])}"
        if found.calibration_u_mg is not None:
            yield f"U at the check     {figure(found.calibration_u_mg, 3)} mg, straight between the loads"


def chart(found: Health, *, zone: tzinfo | None) -> Iterator[str]:
    """Give the checks as an individuals chart: limits, the rules that were broken by name, a line a check."""
    if not found.charted:
        yield "no check with this weight since the last adjustment"
        return
    if found.chart is None:
        yield f"checks: {len(found.charted)} since the last adjustment; a chart needs three"
    else:
        c = found.chart
        yield (
            f"checks, error in mg: mean {c.mean:.4f}, limits {c.lcl:.4f} to {c.ucl:.4f} "
            "(individuals chart, 3 sigma)"
        )
        for signal in c.signals:
            yield f"  ! {signal.name} (Nelson's rule {signal.rule}), complete at check {signal.at}"
        if not c.signals:
            yield "  none of Nelson's rules is broken"
    signals = found.chart.signals if found.chart is not None else ()
    half = _half(found)
    for n, check in enumerate(found.charted, 1):
        yield _point(n, check, half, signals, found, zone)


def _half(found: Health) -> float:
    reach = [abs(c.error_mg) for c in found.charted] + [c.limit_mg or 0.0 for c in found.charted]
    if found.chart is not None:
        reach += [abs(found.chart.ucl), abs(found.chart.lcl)]
    return max(reach) or 1.0


def _point(
    n: int, check: CheckRow, half: float, signals: Sequence[Signal], found: Health, zone: tzinfo | None
) -> str:
    """Draw a check: `|` is no error, `(` `)` the limits of the chart, `[` `]` of the check, `*` its error."""
    row = [" "] * CHART_WIDTH

    def put(at_mg: float, sign: str) -> None:
        row[round((at_mg / half + 1.0) / 2.0 * (CHART_WIDTH - 1))] = sign

    put(0.0, "|")
    if check.limit_mg:
        put(-check.limit_mg, "[")
        put(check.limit_mg, "]")
    if found.chart is not None:
        put(found.chart.lcl, "(")
        put(found.chart.ucl, ")")
    put(check.error_mg, "*")
    rules = ", ".join(f"rule {s.rule}" for s in signals if s.at == n)
    said = ("" if check.within else " OUT OF LIMIT") + (f" {rules}" if rules else "")
    return f"{n:3d} {_at(check.at, zone)} {''.join(row)} {signed(check.error_mg, 4)}{said}"


def _at(at: str, zone: tzinfo | None) -> str:
    return f"{datetime.fromisoformat(at).astimezone(zone):%y-%m-%d %H:%M}"
