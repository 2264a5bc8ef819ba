"""A vessel that gets powder and no solvent: what came out is a mass."""

from store.calc.budget import SolutionResult
from store.calc.purity import as_is
from store.calc.uncertainty import Input, propagate, rectangular
from store.model.registers import Balance
from store.procedure import inputs
from store.procedure.state import PrepState

ONLY = ("solid",)


def stays(state: PrepState) -> bool:
    """Whether nothing but powder is wanted in the one vessel of a state."""
    return state.wanted == ONLY


def one_lot(state: PrepState) -> bool:
    """Whether the vessel of a state is one of many with the same powder: they are containers of one lot."""
    whole = state.whole or state
    taken = {rows["lot"]["id"] for rows in whole.basis.get("parts", {}).values() if "lot" in rows}
    return stays(state) and len(taken) == 1


def weighed(state: PrepState) -> SolutionResult:
    """Give the mass of one portion of powder, as displayed, with the uncertainty of its net."""
    net_mg = state.total_mg("solid")
    of = inputs.balance_data(Balance.from_body(state.basis["balance"]))
    s_mg, dof = of.repeatability_mg()
    linearity = 2.0**0.5 * rectangular(of.linearity_for_mg(net_mg))
    budget = propagate(
        lambda v: v[0] + v[1],
        [
            Input("repeatability", net_mg, s_mg, "mg", dof=dof),
            Input("linearity", 0.0, linearity, "mg"),
        ],
    )
    content, _ = as_is(inputs.content(state.plan, state.basis))
    return SolutionResult(
        value=net_mg, unit="mg", u=budget.u, u_rel=budget.u_rel, k=budget.k, dof=budget.dof, U=budget.U,
        complete=True, missing=(), remarks=("mass of powder as displayed",), components=budget.components,
        w=content, content=content, solid_mass_g=net_mg / 1000.0, solvent_mass_g=0.0,
        solution_density_g_ml=None, temperature_c=inputs.temperature_c(state.basis), factors=(),
        molar_mass_g_mol=None, solvent_share=0.0,
    )  # fmt: skip
