"""What becomes of an incident: its details as they come to be known, and its end. `notes` notes it."""

from dataclasses import dataclass, fields

from store import events as ev
from store.actions.acting import Acting
from store.actions.hazards_now import hazards_now
from store.errors import BadField, BadInput, MovedOn, NotAllowed, Owed, Refused
from store.events import Entry
from store.model.words import IncidentKind, Role
from store.queries import incidents, registers
from store.queries.incidents import IncidentPage

ROUTES = ("breathed in", "skin", "eye", "swallowed", "through a cut or needle", "none")
"""Ways in; `none` where nobody was reached."""
REFERRED = ("yes", "no", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Details:
    """What is known by now; empty where it is not. No diagnosis: that belongs to a physician's own file."""

    route: str = ""
    body_part: str = ""
    amount: str = ""
    first_aid: str = ""
    referred: str = ""
    cause: str = ""
    follow_up: str = ""
    substances: tuple[str, ...] = ()
    present: tuple[str, ...] = ()
    enclosure: str = ""
    """Where it happened; empty where in none, or where nobody knows."""


def subject(incident: int) -> str:
    """Give the journal subject of an incident's details and end."""
    return f"incident:{incident}"


def detail(acting: Acting, incident: int, details: Details, *, seen: int) -> Entry:
    """Write what is known of an incident by now, whole; a closed one is open again with it.

    Parameters
    ----------
    seen
        Last entry of its details as the person saw it; 0 where there was none.

    Raises
    ------
    NotAllowed
        Neither present at it, nor who noted it, nor a safety officer; a closed one is the officer's alone.
    BadField
        A route or a referral that is none.
    NotFound
        A person or an enclosure that is in no register.
    MovedOn
        Somebody else wrote details meanwhile.
    """
    record = acting.record
    if details.route and details.route not in ROUTES:
        raise BadField("route", f"write one of {', '.join(ROUTES)}.")
    if details.referred not in REFERRED:
        raise BadField("referred", "write yes, no, or leave it empty while it is not known.")
    with record.immediate():
        found = incidents.page(record, incident)
        _may_write(acting, found)
        _same(found, seen)
        present = tuple(
            dict.fromkeys(registers.row(record, "person", p).id for p in details.present or found.present)
        )
        enclosure = details.enclosure.strip()
        enclosure = registers.row(record, "enclosure", enclosure).id if enclosure else ""
        held = tuple(dict.fromkeys(details.substances or found.substances))
        event = ev.IncidentDetailed(
            incident=incident,
            route=details.route,
            body_part=details.body_part.strip(),
            amount=details.amount.strip(),
            first_aid=details.first_aid.strip(),
            referred=details.referred,
            cause=details.cause.strip(),
            follow_up=details.follow_up.strip(),
            substances=held,
            # What its prep took stands; anything else is taken as it is classified now.
            hazards=hazards_now(record, (s for s in held if s not in found.substances)),
            present=present,
            enclosure=enclosure,
        )
        return record.append(event, person=acting.person, subject=subject(incident))


def was_near(acting: Acting, incident: int, person: str) -> Entry:
    """Write that somebody else was near at an incident that is noted already; all else stays as it is.

    Raises
    ------
    NotAllowed
        As of `detail`.
    NotFound
        There is no such person.
    """
    record = acting.record
    with record.immediate():
        found = incidents.page(record, incident)
        stands = {f.name: getattr(found, f.name) for f in fields(Details) if f.name != "present"}
        return detail(acting, incident, Details(**stands, present=(*found.present, person)), seen=found.last)


def close(acting: Acting, incident: int, *, seen: int, reason: str) -> Entry:
    """Close an incident.

    Raises
    ------
    NotAllowed
        No safety officer.
    Owed
        A contact of which nobody said yet whether the person was referred to a physician.
    Refused
        It is closed already.
    """
    acting.must(Role.SAFETY_OFFICER)
    record = acting.record
    if not reason.strip():
        raise BadInput("Write why it is closed: what was learned, what was changed.")
    with record.immediate():
        found = incidents.page(record, incident)
        if found.closed:
            raise Refused(f"Incident {incident} was closed by {found.closed_by} already.")
        _same(found, seen)
        if found.what == IncidentKind.CONTACT and not found.referred:
            raise Owed("Say first whether the person was referred to a physician: yes or no, no diagnosis.")
        return record.append(
            ev.IncidentClosed(incident=incident, reason=reason.strip()),
            person=acting.person,
            subject=subject(incident),
        )


def _may_write(acting: Acting, found: IncidentPage) -> None:
    if Role.SAFETY_OFFICER in acting.roles:
        return
    if found.closed:
        raise NotAllowed(f"Incident {found.entry} is closed: a safety officer opens it again.")
    if acting.person not in (found.person, *found.present):
        raise NotAllowed("Who was present, who noted it or a safety officer writes the details.")


def _same(found: IncidentPage, seen: int) -> None:
    if seen != found.last:
        raise MovedOn(f"Incident {found.entry} has moved on since you saw it: look again.")
