"""Tables of relay contacts: each state has one line, as long as there are contacts, and its own."""

from __future__ import annotations

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.scenes.finding import Related
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Contacts
from setwright.scenes.wording import number_of


def check_contacts(found: RigFindings, base: KeyPath, contacts: Contacts) -> None:
    """Find states with too few or too many contacts, two that are alike, and fewer than two."""
    count = len(contacts.numbers)
    if found.book.has_broken(base):
        return
    if len(contacts.states) < 2:
        found.error(
            "contacts-disagree",
            f"{quoted(str(base[-1]))} has {number_of(len(contacts.states), 'state')}, so no relay "
            "changes anything",
            (*base, "states"),
            "write every state that its contacts make: {clean: open, crunch: closed}",
            key=True,
        )
        return
    for state, said in contacts.states.items():
        if len(said) != count:
            found.error(
                "contacts-disagree",
                f"{quoted(state)} says how {number_of(len(said), 'contact')} stand"
                f"{'s' if len(said) == 1 else ''}, and there are {count}",
                (*base, "states", state),
                "write open, closed or any for each of the numbers, in their order",
                Related("the numbers", found.book.place_of_key((*base, "numbers"))),
            )
            return
    states = list(contacts.states.items())
    for at, (state, said) in enumerate(states):
        for other, before in states[:at]:
            if all(a == b or "any" in (a, b) for a, b in zip(said, before, strict=True)):
                found.error(
                    "contacts-disagree",
                    f"with these contacts it may be {quoted(other)} as well as {quoted(state)}",
                    (*base, "states", state),
                    "let at least one contact be open in one of them and closed in the other",
                    Related(other, found.book.place((*base, "states", other))),
                )
                return
