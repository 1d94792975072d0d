from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, Date, ForeignKey, String, Text, UniqueConstraint, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, ExactDecimal, UtcDateTime
from app.officials.models import Person
from app.regulations.ruled import quantity_key


class Series(Base):
    __tablename__ = "series"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    name: Mapped[str] = mapped_column(String(120), unique=True)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)


class Event(Base):
    __tablename__ = "event"
    __table_args__ = (UniqueConstraint("series_id", "name"),)

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    series_id: Mapped[UUID] = mapped_column(ForeignKey("series.id"), index=True)
    name: Mapped[str] = mapped_column(String(120))
    venue: Mapped[str] = mapped_column(String(120))
    starts_on: Mapped[date] = mapped_column(Date, index=True)
    ends_on: Mapped[date] = mapped_column(Date)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    series: Mapped[Series] = relationship()


class RaceClass(Base):
    __tablename__ = "race_class"
    __table_args__ = (UniqueConstraint("series_id", "code"),)

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    series_id: Mapped[UUID] = mapped_column(ForeignKey("series.id"), index=True)
    code: Mapped[str] = mapped_column(String(20))
    name: Mapped[str] = mapped_column(String(120))
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    series: Mapped[Series] = relationship()
    editions: Mapped[list["Edition"]] = relationship(order_by="Edition.number", back_populates="race_class")


class Edition(Base):
    """One dated edition of a class's rules. Inserted once and never changed: the next edition replaces it."""

    __tablename__ = "edition"
    __table_args__ = (UniqueConstraint("class_id", "number"),)

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    class_id: Mapped[UUID] = mapped_column(ForeignKey("race_class.id"), index=True)
    number: Mapped[int]
    in_force_from: Mapped[date] = mapped_column(Date)
    protest_minutes: Mapped[int]  # how long after the decision a protest may be lodged
    overdue_days_allowed: Mapped[int]  # how long after its due date an instrument may still be used; 0: not at all
    note: Mapped[str] = mapped_column(Text)
    published_at: Mapped[datetime] = mapped_column(UtcDateTime)
    published_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))

    race_class: Mapped[RaceClass] = relationship(back_populates="editions")
    published_by: Mapped[Person] = relationship()
    # the compression ratio before the displacement: the first rule is the one that every edition has
    rules: Mapped[list["Rule"]] = relationship(order_by="[Rule.quantity.desc(), Rule.clause]", back_populates="edition")

    def rule_on(self, quantity: str) -> "Rule | None":
        """The rule that limits this quantity, a key of the core's; an edition has one at most."""
        return next((rule for rule in self.rules if quantity_key(rule.quantity) == quantity), None)


class Rule(Base):
    """A rule is data: its kind names the judgement in the core, its parameters are that kind's."""

    __tablename__ = "rule"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    edition_id: Mapped[UUID] = mapped_column(ForeignKey("edition.id"), index=True)
    clause: Mapped[str] = mapped_column(String(20))
    text: Mapped[str] = mapped_column(Text)
    quantity: Mapped[str] = mapped_column(String(60))  # its name: "static compression ratio" or "displacement"
    kind: Mapped[str] = mapped_column(String(30))
    limit: Mapped[Decimal] = mapped_column(ExactDecimal)
    tolerance: Mapped[Decimal] = mapped_column(ExactDecimal)
    applies_to: Mapped[str] = mapped_column(String(30))
    decision_rule: Mapped[str] = mapped_column(String(30))
    confidence: Mapped[Decimal] = mapped_column(ExactDecimal)
    inconclusive_action: Mapped[str] = mapped_column(String(30))
    parameters: Mapped[dict[str, Any]] = mapped_column(JSON)  # absent: none; `parameters_of` writes what is read below

    edition: Mapped[Edition] = relationship(back_populates="rules")

    @property
    def lower_limit(self) -> Decimal | None:
        """Of a range, whose `limit` is the upper one; kept as decimal text."""
        written = self.parameters.get("lower_limit")
        return None if written is None else Decimal(written)

    @property
    def designated_cylinder(self) -> int | None:
        number: int | None = self.parameters.get("designated_cylinder")
        return number

    @property
    def tolerance_covers_uncertainty(self) -> bool:
        return bool(self.parameters.get("tolerance_covers_uncertainty", False))


def parameters_of(
    lower_limit: Decimal | None, designated_cylinder: int | None, tolerance_covers_uncertainty: bool
) -> dict[str, Any]:
    """What a rule's kind and scope need beyond its columns; empty where they need nothing."""
    found: dict[str, Any] = {}
    if lower_limit is not None:
        found["lower_limit"] = format(lower_limit, "f")
    if designated_cylinder is not None:
        found["designated_cylinder"] = designated_cylinder
    if tolerance_covers_uncertainty:
        found["tolerance_covers_uncertainty"] = True
    return found
