"""How is it told what followed from an entry: an action, an outage, the way back into use?"""

from __future__ import annotations

import shlex
from collections.abc import Iterator

from fleet.cli.output import one_line
from fleet.services.action_rows import carry_on_command
from fleet.services.entry_effects import Effects
from notifications.digests.words import day

__all__ = ["effect_fields", "then_lines"]


def effect_fields(effects: Effects) -> dict[str, object]:
    """The fields of an answer, empty where nothing followed; of checks that keep a unit out, or an
    outage that is withdrawn, only where there are any.
    """
    action, began, ended = effects.action, effects.began, effects.ended
    is_open = action is not None and action.closed_on is None
    needs_act = action is not None and is_open and not action.action
    return {
        "action_number": action.number if action else None,
        "action_problem": action.problem if action else None,
        "action_next": carry_on_command(action.number) if action and needs_act else None,
        "out_of_service_from": began.from_on if began else None,
        "back_in_service_on": ended.to_on if ended else began.to_on if began else None,
        "cautions": list(effects.cautions),
        **({"outage_withdrawn_from": gone.from_on} if (gone := effects.withdrawn) else {}),
        **({"still_failed": [one.task for one in effects.still]} if effects.still else {}),
    }


def then_lines(effects: Effects) -> Iterator[str]:
    """What is to be done next about the action, the command on a line of its own."""
    action = effects.action
    if effects.ended is not None and effects.ended.to_on is not None:
        yield f"The check is passed: back in service on {day(effects.ended.to_on)}."
    if effects.withdrawn is not None:
        since = day(effects.withdrawn.from_on)
        yield f"The outage from {since} is withdrawn: no failed check stands behind it any more."
    for one in effects.still:
        since = f"'{one.task}' failed on {day(one.opened_on)} and is not passed"
        yield f"It is out of service: {since}."
    if action is None or action.closed_on is not None:
        return
    is_out = effects.began is not None or bool(effects.still)
    if not is_out and effects.ended is None and not action.entry:
        yield "If it must not be used and is not out of service yet, say so:"
        yield f"  dueward broken {shlex.quote(action.property_number)} --on DATE --why '...'"
    if action.action:
        yield f"Corrective action {action.number} is open: see dueward actions."
    else:
        words = "say what is done, by whom, and when it is reviewed"
        yield f"Corrective action {action.number} is open; {words}:"
        yield f"  {one_line(carry_on_command(action.number))}"
