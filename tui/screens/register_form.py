"""One row of a register is entered or changed: one form, errors beside fields, a reason for a change."""

from collections.abc import Iterable, Mapping
from typing import Any, ClassVar

from textual.widget import Widget

from store.actions import registers
from store.errors import BadField, StoreError
from store.model.words import Role
from store.queries.registers import RegisterRow
from tui.commands import BACK, EDIT, FIELDS, HELP, NEXT, WRITE, Command
from tui.screens import register_fields
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.register_fields import MOLAR, REASON
from tui.widgets.entry_form import EntryForm


class RegisterForm(FormFrame[str]):
    """Its result is the id of the row that was written, or None."""

    CSS_PATH = ["frame.tcss", "register_form.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, WRITE, BACK, HELP)
    HELP_LINES = (
        "Enter keeps what stands in a field and goes on; typing replaces it; → edits it; Backspace on an "
        "empty line empties it. What is wrong stands beside its field at once. Rows of other registers are "
        "found by code, name, synonym or CAS number.",
        "After the last field the row is written as one entry. A prep that was planned before keeps what "
        "stood then.",
    )

    def __init__(
        self,
        desk: Desk,
        register: str,
        found: RegisterRow | None = None,
        *,
        given: Mapping[str, str] | None = None,
    ) -> None:
        """Begin with what stands in the row; `given` are values for a new one.

        Raises
        ------
        NotAllowed
            No keeper.
        """
        super().__init__(desk)
        desk.acting.must(Role.KEEPER)
        self.register, self.found = register, found
        self.NAME = f"{'Change' if found is not None else 'New'} {register}"
        row = None if found is None else {**found.row, "id": found.id}
        self._was = str((row or {}).get("formula", ""))
        self.form = EntryForm(register_fields.fields(desk, register, row), long=True, id="form")
        for of in self.form.fields:
            if given and of.key in given:
                of.value = given[of.key]
        self.form.look = self._look
        self._molar()

    def inside(self) -> Iterable[Widget]:
        """Give the form."""
        yield self.form

    def right(self) -> str:
        """Give which row it is."""
        return self.found.id if self.found is not None else super().right()

    @property
    def cells(self) -> dict[str, Any]:
        """The row as it is typed."""
        typed = {k: v for k, v in self.form.values.items() if k not in (MOLAR, REASON)}
        if self.found is None:
            return typed
        kept = {k: v for k, v in self.found.row.items() if k in register_fields.NEVER_TYPED}
        return {"id": self.found.id, **kept, **typed}

    def _molar(self) -> None:
        if self.register == "substance":
            register_fields.confirm_molar_mass(self.form.fields, was=self._was)

    def _look(self, key: str) -> str:
        faults = registers.faults_of(self.desk.record, self.register, self.cells)
        return next((f.what for f in faults if f.field == key), "")

    def on_entry_form_taken(self, message: EntryForm.Taken) -> None:
        """Say beside the fields that were typed what does not fit together."""
        message.stop()
        self.say("")
        self._molar()
        keys = [f.key for f in self.form.fields]
        passed = keys.index(message.key)
        faults = {f.field: f.what for f in registers.faults_of(self.desk.record, self.register, self.cells)}
        for n, of in enumerate(self.form.fields):
            if of.key in (MOLAR, REASON):
                continue
            said = faults.get(of.key, "")
            missed = n > passed and of.required and not of.value
            if not missed:
                of.error = said if n <= passed and (of.value or n == passed) else ""
        self.form.changed()

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Write the row, or say beside its field what is wrong."""
        message.stop()
        self._molar()
        if any(f.key == MOLAR and f.required and not f.value for f in self.form.fields):
            self.form.refuse(MOLAR, "say that the molar mass is right, or go back and change the formula.")
            return
        try:
            registers.register(
                self.desk.acting,
                self.register,
                self.cells,
                message.values[REASON],
                seen=self.found.entry if self.found is not None else None,
            )
        except BadField as refusal:
            if any(f.key == refusal.field for f in self.form.fields):
                self.form.refuse(refusal.field, refusal.what)
            else:
                self._refused(refusal)
            return
        except StoreError as refusal:
            self._refused(refusal)
            return
        self.dismiss(str(self.cells["id"]))

    def _refused(self, refusal: StoreError) -> None:
        self.say(refusal)
        self.form.open(len(self.form.fields) - 1)
