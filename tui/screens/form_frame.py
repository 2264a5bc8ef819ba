"""A framed screen around one form: what it is about above, then the form, which takes the keys."""

from collections.abc import Iterable

from textual.screen import ScreenResultType
from textual.widget import Widget

from tui.screens.frame import Framed
from tui.widgets.entry_form import EntryForm
from tui.widgets.lines import Lines


class FormFrame(Framed[ScreenResultType]):
    """A screen whose form has every key; the screen makes the form before it is shown."""

    form: EntryForm

    def inside(self) -> Iterable[Widget]:
        """Give what it is about, and the form."""
        yield Lines(id="lines")
        yield self.form

    def on_mount(self) -> None:
        """Take keys; the frame's own handler is called beside this one."""
        self.form.focus()
