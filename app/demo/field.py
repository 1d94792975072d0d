"""The field: twenty competitors, their cars and engines, and who is entered where."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from app.demo.logbook import DemoLogbook, an_id
from app.demo.roster import ROSTER
from app.demo.rule_book import class_id, event_id
from app.entries import service as entries
from app.entries.schemas import AccountIn, CompetitorIn, EntryIn


@dataclass(frozen=True, slots=True)
class Team:
    licence: str
    name: str
    contact: str


@dataclass(frozen=True, slots=True)
class Car:
    """As its entry form has it: every length and volume with the unit the builder used."""

    number: str
    licence: str
    class_code: str
    engine: str
    cylinders: int
    bore: str
    stroke: str
    displacement: str
    seals: str
    ratio: float  # what the engine truly has: known to this season, never to its inspectors


TEAMS: dict[str, Team] = {
    team.licence: team
    for team in (
        Team("W-101", "Owlbeck Garage", "Sefton Orrell"),
        Team("W-102", "Team Sablewood", "Ottilie Crane-Holt"),
        Team("W-103", "Marrick and Dow", "Lowri Marrick"),
        Team("W-104", "Peverel Engineering", "Gaspar Peverel"),
        Team("W-105", "Two Bridges Racing", "Thora Linnet"),
        Team("W-106", "Haldane's Yard", "Ruan Haldane"),
        Team("W-107", "Copperfield Lane Motors", "Isolde Venn"),
        Team("W-108", "Lowfold Racing", "Emric Vane"),
        Team("W-109", "Ashgill Works", "Corin Ashgill"),
        Team("W-110", "The Millrace Team", "Brid Hollin"),
        Team("W-111", "Tannery Row Racing", "Ysolde Marr"),
        Team("W-112", "Northcote and Daughters", "Freya Northcote"),
        Team("W-113", "Bellweather Cars", "Anselm Tye"),
        Team("W-114", "Stannary Brothers", "Kenver Stannary"),
        Team("W-115", "Greyshore Racing", "Wilmot Dray"),
        Team("W-116", "Quarry Hill Team", "Maud Esterby"),
        Team("W-117", "Kilnfield Motors", "Osric Penhale"),
        Team("W-118", "Old Station Garage", "Delphine Roake"),
        Team("W-119", "Ferrier and Finch", "Jago Ferrier"),
        Team("W-120", "Saltpan Lane", "Ingrith Solway"),
    )
}
CARS: dict[str, Car] = {
    car.number: car
    for car in (
        Car("11", "W-101", "LT-2", "OB-0411", 1, "88.0 mm", "82.0 mm", "498.7 cm³", "1107", 10.58),
        Car("12", "W-105", "LT-2", "TB-2207", 2, "92.0 mm", "75.2 mm", "999.8 cm³", "1203 1204", 10.46),
        Car("14", "W-102", "LT-2", "SW-0102", 2, "4.000 in", "3.979 in", "100 in³", "1311 1312", 10.33),
        Car("17", "W-103", "LT-2", "MD-7731", 2, "80.0 mm", "74.5 mm", "749 cm³", "1418 1419", 10.71),
        Car("19", "W-104", "LT-2", "PE-0350", 1, "79.0 mm", "71.4 mm", "350 cm³", "1520", 10.87),
        Car("31", "W-106", "QD-4", "HY-1995", 4, "84.0 mm", "90.0 mm", "1995 cm³", "2101 2102", 10.29),
        Car("34", "W-107", "QD-4", "CL-0884", 4, "82.5 mm", "92.8 mm", "1984 cm³", "2211 2212", 10.17),
        Car("37", "W-108", "QD-4", "LR-0121", 4, "3.300 in", "3.550 in", "121.5 in³", "2307 2308", 10.31),
        Car("41", "W-109", "QD-4", "AW-1601", 4, "80.2 mm", "79.0 mm", "1596 cm³", "2413 2414", 10.34),
        Car("43", "W-110", "QD-4", "MR-4302", 4, "85.5 mm", "86.5 mm", "1987 cm³", "2519 2520", 10.24),
        Car("46", "W-111", "QD-4", "TR-1595", 4, "78.5 mm", "82.4 mm", "1595 cm³", "2604 2605", 10.37),
        Car("48", "W-112", "QD-4", "ND-0112", 4, "3.250 in", "3.375 in", "112 in³", "2711 2712", 10.11),
        Car("61", "W-113", "BE-8", "BC-3466", 8, "4.040 in", "3.380 in", "346.6 in³", "3101 3102 3103", 9.28),
        Car("64", "W-114", "BE-8", "SB-5624", 8, "101.2 mm", "87.4 mm", "5624 cm³", "3204 3205 3206", 9.34),
        Car("66", "W-115", "BE-8", "GR-3612", 8, "4.100 in", "3.420 in", "361.2 in³", "3307 3308 3309", 10.06),
        Car("68", "W-116", "BE-8", "QH-4915", 8, "96.5 mm", "84.0 mm", "4915 cm³", "3410 3411 3412", 9.22),
        Car("72", "W-117", "BE-8", "KM-3472", 8, "3.940 in", "3.560 in", "347.2 in³", "3513 3514 3515", 9.39),
        Car("75", "W-101", "BE-8", "OB-5461", 8, "98.0 mm", "90.5 mm", "5461 cm³", "3616 3617 3618", 9.31),
        Car("81", "W-118", "RG-12", "OS-2961", 6, "84.5 mm", "88.0 mm", "2961 cm³", "4119 4120", 8.84),
        Car("84", "W-119", "RG-12", "FF-2272", 6, "3.450 in", "4.050 in", "227.2 in³", "4221 4222", 8.77),
        Car("88", "W-120", "RG-12", "SL-4000", 12, "3.500 in", "3.465 in", "400 in³", "4323 4324 4325 4326", 8.91),
        Car("90", "W-106", "RG-12", "HY-4023", 12, "77.0 mm", "72.0 mm", "4023 cm³", "4427 4428 4429 4430", 8.96),
        Car("93", "W-114", "RG-12", "SB-3335", 6, "87.0 mm", "93.5 mm", "3335 cm³", "4531 4532", 8.80),
    )
}
ENTERED: dict[int, tuple[str, ...]] = {
    1: ("11", "14", "17", "31", "34", "37", "41", "43", "61", "64", "66", "68", "81", "88"),
    2: ("12", "19", "31", "34", "43", "46", "48", "61", "64", "72", "75", "84", "90", "93"),
    3: ("12", "14", "17", "19", "37", "41", "46", "48", "64", "66", "68", "72", "81", "84", "88"),
}
# opened between two events: new seals, and for car 66 a thicker gasket that brought its ratio down
REBUILT: dict[tuple[int, str], tuple[str, float]] = {
    (3, "64"): ("3241 3242 3243", 9.34),
    (3, "66"): ("3351 3352 3353", 9.33),
}


def entry_id(event: int, car: str) -> UUID:
    return an_id("entry", event, car)


def seals_of(event: int, car: Car) -> str:
    return REBUILT[event, car.number][0] if (event, car.number) in REBUILT else car.seals


def true_ratio(event: int, car: Car) -> float:
    return REBUILT[event, car.number][1] if (event, car.number) in REBUILT else car.ratio


def add_competitors(book: DemoLogbook, moment: datetime) -> None:
    me = book.people["official"]
    with book.at(moment) as session:
        for team in TEAMS.values():
            competitor = CompetitorIn(licence=team.licence, name=team.name)
            entries.add_competitor(session, me, an_id("competitor", team.licence), competitor)
        for player in ROSTER:
            if player.licence:
                account = AccountIn(person_id=book.people[player.sign_in_name].id)
                entries.link_account(session, me, an_id("competitor", player.licence), account)


def enter(book: DemoLogbook, event: int, moment: datetime) -> None:
    with book.at(moment) as session:
        for number in ENTERED[event]:
            car = CARS[number]
            team = TEAMS[car.licence]
            asked = {
                "car_number": car.number,
                "class_id": class_id(car.class_code),
                "competitor": {"licence": team.licence, "name": team.name},
                "engine": {
                    "serial": car.engine,
                    "cylinders": car.cylinders,
                    "bore": car.bore,
                    "stroke": car.stroke,
                    "declared_displacement": car.displacement,
                    "seals": seals_of(event, car),
                },
            }
            data = EntryIn.model_validate(asked)
            entries.add_entry(session, book.people["official"], event_id(event), entry_id(event, number), data)
