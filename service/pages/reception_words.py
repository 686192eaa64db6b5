"""The sentences of What came back, written from what is there."""

from collections.abc import Sequence

from service.domain.reception import CameBack, Hidden, Reception
from service.domain.rounds import Round
from service.domain.words import RoundState
from service.pages.view import counted, kelvin, listed, sentence_case


def reception_title(reception: Reception) -> str:
    """36 of 42 points were read; five could not be, one is missing."""
    counts = reception.counts
    if not counts.read and not counts.not_read:
        return "Nothing has come back yet"
    if counts.read == counts.rows:
        return (
            f"All {counted(counts.rows, 'point')} were read" if counts.rows > 1 else "The one point was read"
        )
    rest = []
    if counts.not_read:
        rest.append(f"{counts.not_read} could not be")
    if counts.missing:
        rest.append(f"{counts.missing} {'is' if counts.missing == 1 else 'are'} missing")
    return f"{counts.read} of {counted(counts.rows, 'point')} were read; {', '.join(rest)}"


def reception_lead(round_: Round, reception: Reception) -> str:
    """What stands out, and what stands between the round and its signature."""
    counts = reception.counts
    told = []
    for count, words in (
        (counts.above, "above Nothing found"),
        (counts.worse, "worse than foretold"),
        (counts.odd, "odd"),
    ):
        if count:
            told.append(f"{count} {words}")
    lead = f"{sentence_case(listed(told))}." if told else "Nothing in it stands out."
    if reception.notes:
        lead += f" {sentence_case(counted(reception.notes, 'spoken note'))} to listen to."
    if reception.open_questions:
        waits = "waits" if reception.open_questions == 1 else "wait"
        lead += f" {sentence_case(counted(reception.open_questions, 'question'))} {waits} for an answer."
    if round_.state is RoundState.SIGNED_OFF:
        lead += " Signed off."
    return lead


def stands_out(rows: Sequence[CameBack]) -> tuple[CameBack, ...]:
    """Rows that want to be looked at, each once: the gravest first, then worse, odd, not read, missing."""
    chosen = [
        row
        for row in rows
        if row.odd or row.spoken or row.worse is not None or row.not_read or row.missing or row.point.above
    ]
    return tuple(
        sorted(
            chosen,
            key=lambda row: (
                -(row.point.level or 0),
                row.worse is None,
                not row.odd,
                not row.not_read,
            ),
        )
    )


def why_words(row: CameBack) -> tuple[str, ...]:
    """Each thing that stands out in a row, as a sentence."""
    told = []
    if row.worse is not None:
        worse = row.worse
        told.append(
            f"Worse than foretold: {kelvin(worse.read_k)} at common load, where its trend "
            f"({worse.trend}) said {kelvin(worse.middle_k)} and at most {kelvin(worse.most_k)}."
        )
    told += row.odd
    if row.missing:
        told.append("Neither read nor given a reason.")
    elif row.point.reason is not None:
        told.append(f"{row.point.reason.value}: {row.point.reason.word}.")
    return tuple(told)


def hidden_words(hidden: Sequence[Hidden]) -> str:
    """Why: load under 57 % of common load (12), emissivity under 0.5 (3)."""
    if not hidden:
        return ""
    return "Why: " + ", ".join(f"{one.words} ({one.count})" for one in hidden) + "."


def foretold_words(reception: Reception) -> str:
    """Of how many readings something had been foretold; a quiet list is else taken for a clean one."""
    read = reception.counts.read
    if not read:
        return ""
    if not reception.foretold:
        return "Nothing had been foretold when the round was issued, so that nothing can be worse than that."
    return (
        f"Held against what trends said when the round was issued: {reception.foretold} of "
        f"{counted(read, 'reading')}. By chance at most one in twenty of worsening points and one in a "
        "hundred of the others is told."
    )
