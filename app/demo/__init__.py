"""A whole season of our own invention, to look at and to try things on. Light: the command line asks it at once."""

from typing import TYPE_CHECKING

from app.demo.roster import ROSTER

if TYPE_CHECKING:
    from app.config import Settings

# sign-in name, password, PIN or "", who it is
DEMO_SIGN_INS: tuple[tuple[str, str, str, str], ...] = tuple(
    (player.sign_in_name, player.password, player.pin, f"{player.full_name}, {player.what}") for player in ROSTER
)
# Written last, before the folder gets its name: where it lies, the season is whole.
WHOLE = "season.json"


def is_loaded(settings: "Settings") -> bool:
    return (settings.data_folder / WHOLE).is_file() and (settings.data_folder / "shedbook.db").is_file()
