"""Tokens of programs and devices."""

from datetime import datetime

from sqlalchemy import select, update

from service.domain.people import Person, Token
from service.storage.people import person_of
from service.storage.tables.people import PersonRow, TokenRow
from service.storage.tables.rounds import StopRow
from service.storage.unit import Unit


def _token(row: TokenRow) -> Token:
    return Token(
        id=row.id,
        person_id=row.person_id,
        name=row.name,
        prefix=row.prefix,
        round_id=row.round_id,
        created_at=row.created_at,
        expires_at=row.expires_at,
        used_at=row.used_at,
        revoked_at=row.revoked_at,
    )


def token_by_digest(unit: Unit, secret_digest: str) -> tuple[Token, Person] | None:
    """The token and whose it is, alive or not."""
    found = unit.session.execute(
        select(TokenRow, PersonRow)
        .join(PersonRow, PersonRow.id == TokenRow.person_id)
        .where(TokenRow.secret_hash == secret_digest)
    ).one_or_none()
    return None if found is None else (_token(found[0]), person_of(found[1]))


def note_token_used(unit: Unit, token_id: int, *, now: datetime) -> None:
    unit.session.execute(update(TokenRow).where(TokenRow.id == token_id).values(used_at=now))


def sites_of_round(unit: Unit, round_id: int) -> frozenset[int]:
    """Sites that a round's stops lie at."""
    return frozenset(unit.session.scalars(select(StopRow.site_id).where(StopRow.round_id == round_id)))
