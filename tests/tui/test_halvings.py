"""The row of halvings counts what its name says."""

from hypothesis import assume, given
from hypothesis import strategies as st

from tui.guide import halvings

DISTANCES = st.floats(-1e5, 1e5)
TOLERANCES = st.floats(1e-3, 1e3)


@given(DISTANCES, TOLERANCES)
def test_halved_so_often_it_is_inside_and_once_less_it_is_not(to_go: float, tolerance: float) -> None:
    n = halvings.count(to_go, tolerance)
    assume(n < halvings.MOST)
    assert abs(to_go) / 2**n <= tolerance * (1 + 1e-8)
    assert n == 0 or abs(to_go) / 2 ** (n - 1) > tolerance * (1 - 1e-8)


@given(DISTANCES, TOLERANCES)
def test_the_side_of_the_aim_tells_under_from_over(to_go: float, tolerance: float) -> None:
    before, aim, behind = halvings.row(to_go, tolerance).partition(halvings.AIM)
    assert aim
    assert bool(before) == (to_go > tolerance * (1 + 1e-12))
    assert bool(behind) == (to_go < -tolerance * (1 + 1e-12))


@given(DISTANCES, TOLERANCES)
def test_the_row_fits_a_line_of_the_step_screen(to_go: float, tolerance: float) -> None:
    assert len(halvings.row(to_go, tolerance)) <= 30
