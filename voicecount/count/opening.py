"""The first event of a case, made of its sheet."""

from voicecount.count.events import CaseItem, CaseOpened, Person
from voicecount.sheet.model import Sheet


def open_case(
    sheet: Sheet,
    *,
    at: float,
    software: str,
    recogniser: str,
    voice: str,
    told_apart: bool,
) -> CaseOpened:
    """Build CaseOpened."""
    items = tuple(
        CaseItem(
            id=item.id,
            name=item.name(1),
            group=item.group,
            expect=item.expect,
            pack=item.pack,
            pieces=item.pieces,
        )
        for item in sheet.items
    )
    return CaseOpened(
        at=at,
        title=sheet.title,
        sheet=sheet.digest,
        items=items,
        software=software,
        recogniser=recogniser,
        voice=voice,
        roles_told_apart=told_apart,
        plan=sheet.plan,
        team=tuple(Person(id=person.id, name=person.say) for person in sheet.team),
    )
