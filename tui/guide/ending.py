"""All steps are done: the result is shown, Enter closes the prep."""

from typing import TYPE_CHECKING

from store.actions import closing
from tui.guide import keys

if TYPE_CHECKING:
    from tui.guide.guide import Guide


def take(guide: "Guide", intent: keys.Intent) -> None:
    """Close the prep on Enter."""
    if isinstance(intent, keys.Act):
        closing.close(guide.acting, guide.prep, seen=guide.state.last_entry, labels=guide.labels())
        guide.did()
