"""What a container needs before it is brought in, and right before it is opened."""

from collections.abc import Mapping
from typing import Any

from store.model.prep import Act
from store.model.words import DARK, MIX, WARM, ActKind


def _confirm(key: str, text: str, what: str) -> Act:
    return Act(key=key, kind=ActKind.CONFIRM, text=text, what=what)


def conditioning(container: Mapping[str, Any], suffix: str, extra: dict[str, str]) -> list[Act]:
    """What a container needs before it is brought in; `extra` is told which act waits, and from which one.

    Warmed closed, so that no water of the room condenses on the cold powder (*common practice*).
    """
    id, acts = container["id"], []
    minutes = container.get("warm_minutes", "")
    for number, entry in enumerate(e for e in container.get("conditioning", ()) if e != MIX):
        if entry == WARM:
            if minutes:
                text = f"Take container {id} out of the cold, leave it closed. Enter starts {minutes} min."
                acts.append(_confirm(f"cold{suffix}", text, "cold"))
                extra |= {f"wait:warm{suffix}": minutes, f"from:warm{suffix}": f"cold{suffix}"}
            text = f"Container {id}, still closed: at room temperature, and dry outside?"
            acts.append(_confirm(f"warm{suffix}", text, "warm"))
        elif entry == DARK:
            text = f"Keep container {id} in its wrap, lights low: what is in it must be protected from light."
            acts.append(_confirm(f"dark{suffix}", text, "dark"))
        else:
            text = f"Container {id}, before use: {entry}."
            acts.append(_confirm(f"condition{number}{suffix}", text, "conditioning"))
    if most := container.get("thaws_most"):
        times = int(container.get("thawed", 0)) + 1
        text = f"Container {id}: thawed now for time {times} of {most} at the most. Mark it on the container."
        acts.append(_confirm(f"thaw{suffix}", text, "thaw"))
    return acts


def mixing(container: Mapping[str, Any]) -> tuple[Act, ...]:
    """What a container needs right before it is opened."""
    if MIX not in container.get("conditioning", ()):
        return ()
    text = f"Mix container {container['id']}, closed: turn it over ten times, slowly."
    return (_confirm("mix", text, "mix"),)
