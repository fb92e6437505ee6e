"""Who was scrub and circulator from when to when, as far as people told it."""

from collections.abc import Iterable, Sequence

from voicecount.count.roles import Role
from voicecount.report.facts import HappeningFacts, Moment, TenureFacts


def tenures(began: Moment, happenings: Iterable[HappeningFacts]) -> tuple[TenureFacts, ...]:
    """Give everybody's times in the two roles; ``began`` is when the case did.

    Who had a role first is known only by the name of the one who went.
    """
    changes = [one for one in happenings if one.what == "people_changed"]
    found = [
        one
        for role in Role
        for one in _of_role(role, began, [change for change in changes if change.role == role])
    ]
    return tuple(sorted(found, key=lambda one: one.began.record))


def _of_role(role: Role, began: Moment, changes: Sequence[HappeningFacts]) -> Iterable[TenureFacts]:
    starts = [began, *(change.when for change in changes)]
    ends = [*starts[1:], None]
    people = [changes[0].outgoing if changes else None, *(one.incoming for one in changes)]
    stands_in = [False, *(not one.permanent and not one.back for one in changes)]
    for start, end, person, standing in zip(starts, ends, people, stands_in, strict=True):
        yield TenureFacts(
            role=role.value, person=person, began=start, ended=end, stands_in=standing
        )
