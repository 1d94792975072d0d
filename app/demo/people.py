"""Signs the roster up, gives inspectors and officials their PINs and opens their keys for the length of the load."""

from datetime import datetime

from app.demo.logbook import DemoLogbook, an_id
from app.demo.roster import ROSTER
from app.officials import service as officials
from app.officials.api import unlock_signing_key
from app.officials.schemas import PersonIn
from app.officials.service import CurrentPerson


def sign_up(book: DemoLogbook, moment: datetime) -> None:
    by = "command line"
    for player in ROSTER:
        asked = {
            "full_name": player.full_name,
            "sign_in_name": player.sign_in_name,
            "roles": [player.role],
            "password": player.password,
        }
        person_id = an_id("person", player.sign_in_name)
        with book.at(moment) as session:
            view = officials.add_person(session, by, person_id, PersonIn.model_validate(asked), player.units)
            by = ROSTER[0].full_name  # the administrator adds everybody else
            if player.pin:
                officials.issue_key(session, officials.person_of(session, person_id), player.pin, book.keyring)
        book.people[player.sign_in_name] = CurrentPerson(
            view.id, view.full_name, frozenset(view.roles), view.units, view.pad_side
        )
    for player in ROSTER:
        if player.pin:
            me = book.people[player.sign_in_name]
            book.keys[player.sign_in_name] = unlock_signing_key(book.database, me, player.pin, book.keyring)
