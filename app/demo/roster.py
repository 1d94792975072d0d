"""Who plays in the demo season. All of them are made up, and so are their teams."""

from dataclasses import dataclass

PASSWORD = "two cold spanners"  # noqa: S105  # of a demo, printed at its start


@dataclass(frozen=True, slots=True)
class Player:
    sign_in_name: str
    full_name: str
    role: str
    what: str
    units: str = "metric"
    pin: str = ""
    licence: str = ""  # of the competitor whose record this account shows
    password: str = PASSWORD


ROSTER: tuple[Player, ...] = (
    Player("admin", "Orla Pennick", "administrator", "administrator"),
    Player("official", "Hedda Brindle", "official", "official: rule book, entries, protests", pin="418306"),
    Player("official2", "Tancred Ulver", "official", "second official", pin="960273"),
    Player("inspector", "Nessa Quayle", "inspector", "inspector, with the sheet of car 68 half done", pin="582914"),
    Player("inspector2", "Jorun Askel", "inspector", "second inspector, in inch units", "inch", pin="730461"),
    Player(
        "greyshore", "Wilmot Dray", "competitor", "competitor, car 66: past the limit, rebuilt since", licence="W-115"
    ),
    Player("tannery", "Ysolde Marr", "competitor", "competitor, car 46: measured twice", licence="W-111"),
    Player("lowfold", "Emric Vane", "competitor", "competitor, car 37: has protested today", licence="W-108"),
)
