"""Codes printed on sheets and labels: short, without look-alike characters, with a check character."""

from collections.abc import Callable

#: 23 characters, a prime: of each pair that a hand confuses (0/O, 1/I, 2/Z, 5/S, 6/G, 8/B, U/V) at most one
ALPHABET = "23456789ACEFHJKMNPRTWXY"
BODY = 5
#: of a label: one for each equipment there will ever be, and too many to guess one (23⁷ is 3.4 · 10⁹)
LABEL_BODY = 7
#: longest thing anybody types for a code, blanks and hyphens included
LONGEST_TYPED = 20


def check_character(body: str) -> str:
    """Weighted sum modulo 23.

    Weights differ and the modulus is prime, so that one wrong character and any two
    exchanged ones are always found (the idea of ISO 7064 and of ISBN-10, worked by hand).
    """
    total = sum((place + 1) * ALPHABET.index(letter) for place, letter in enumerate(body))
    return ALPHABET[total % len(ALPHABET)]


def make_code(below: Callable[[int], int], body_length: int = BODY) -> str:
    """A new code such as ``7K2-QX4``; ``below(n)`` draws an integer from 0 to n − 1."""
    body = "".join(ALPHABET[below(len(ALPHABET))] for _ in range(body_length))
    return written(body + check_character(body))


def written(plain: str) -> str:
    """In two halves, as printed."""
    half = len(plain) // 2
    return f"{plain[:half]}-{plain[half:]}"


def read_code(typed: str, body_length: int = BODY) -> str | None:
    """The code as printed, from what somebody typed; None when it cannot be one."""
    if len(typed) > LONGEST_TYPED:
        return None
    plain = "".join(letter for letter in typed.upper() if letter not in "- \t")
    if len(plain) != body_length + 1 or any(letter not in ALPHABET for letter in plain):
        return None
    return written(plain) if check_character(plain[:body_length]) == plain[body_length] else None
