"""Passwords that are long but guessed early: repeats, runs and the obvious words."""

import re
import unicodedata
from collections.abc import Iterable

#: Rows along which fingers run; backwards counts too. (common practice, no source)
ROWS = (
    "1234567890",
    "qwertyuiop",
    "asdfghjkl",
    "zxcvbnm",
    "qwertzuiop",
    "yxcvbnm",
    "azertyuiop",
    "qsdfghjklm",
    "abcdefghijklmnopqrstuvwxyz",
)
#: Words that lists of leaked passwords are full of, and words of this trade. (from memory)
_WORDS = """
    password passwort passwd pass word secret login welcome letmein admin administrator root
    user username guest test testing demo example default change changeme temp temporary access
    account system server master qwerty qwertz azerty asdf zxcv abc iloveyou love monkey dragon
    sunshine princess football baseball shadow summer winter spring autumn monday
    friday january february march april may june july august september october november december
    hello correct horse battery staple company office manager engineer technician
    riseline infrared thermal thermography camera survey round route switchboard the and for with my
    our your this that is it in on at of to a i
"""
OBVIOUS = tuple(_WORDS.split())
ENOUGH_LEFT = 6
LOOKALIKE = str.maketrans("0134578@$!", "oieastbasi")


def guessable(password: str, *, words: Iterable[str] = ()) -> str:
    """Why a password is guessed early, in a few words; empty when nothing was seen."""
    plain = unicodedata.normalize("NFKC", password).casefold()
    if len(set(plain)) < 5:
        return "fewer than five different characters"
    if _repeats(plain):
        return "one short piece again and again"
    if _share_in_runs(plain) >= 0.6:
        return "runs along the keys or the alphabet"
    if _left_over(plain, (*OBVIOUS, *_parts(words))) < ENOUGH_LEFT:
        return "only obvious words and figures"
    return ""


def _repeats(text: str) -> bool:
    """True when it is one piece of at most a third of it, repeated (the last may be cut)."""
    return any(
        text == (text[:size] * (len(text) // size + 1))[: len(text)] for size in range(1, len(text) // 3 + 1)
    ) or (len(text) % 2 == 0 and text[: len(text) // 2] == text[len(text) // 2 :])


def _share_in_runs(text: str) -> float:
    """Share of the characters that stand in runs of four or more along a row."""
    pairs = {row[k : k + 2] for row in ROWS for k in range(len(row) - 1)}
    pairs |= {pair[::-1] for pair in pairs} | {"09", "90"}
    inside = 0
    start = 0
    for place in range(1, len(text) + 1):
        if place < len(text) and text[place - 1 : place + 1] in pairs:
            continue
        if place - start >= 4:
            inside += place - start
        start = place
    return inside / len(text)


def _parts(words: Iterable[str]) -> tuple[str, ...]:
    parts = (part for word in words for part in re.split(r"[\W_]+", word.casefold()))
    return tuple(part for part in parts if len(part) >= 3)


def _left_over(text: str, words: Iterable[str]) -> int:
    """What is left to guess once obvious words are taken away; figures and signs count a third."""
    ordered = sorted((word for word in set(words) if len(word) >= 3), key=len, reverse=True)
    return min(_without(shape, ordered) for shape in (text, text.translate(LOOKALIKE)))


def _without(text: str, words: list[str]) -> int:
    whole = len(text)
    for word in words:
        text = text.replace(word, " ")
    if len(text) == whole:
        return whole
    left = text.replace(" ", "")
    letters = sum(letter.isalpha() for letter in left)
    return letters + (len(left) - letters) // 3
