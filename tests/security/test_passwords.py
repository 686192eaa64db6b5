"""The rules of a password (reliability.md R22), each by itself."""

import threading

import pytest

from service.security.guessable import guessable
from service.security.passwords import Hasher, normal, password_problems

GOOD = "kettle gravel orbit nine"


@pytest.fixture
def hasher() -> Hasher:
    return Hasher(time_cost=1, memory_kib=8, parallelism=1)


@pytest.mark.parametrize(
    ("password", "accepted"),
    [
        ("gravel orbit n", False),  # 14
        ("gravel orbit ni", True),  # 15: NIST SP 800-63B-4 single factor, from memory
        ("gravel orbit " + "çéü" * 17, True),  # 64 and any letters
        ("k7 x" * 32, False),  # one piece again and again, though 128 long
        ("".join(chr(0x4E00 + 7 * k) for k in range(128)), True),
        ("".join(chr(0x4E00 + 7 * k) for k in range(129)), False),
        ("🜁🜂🜃🜄♁♃♄♅♆♇☉☽☿♀♂", True),
        ("829 471 650 382 947", True),  # no composition rules
        ("kettle\u0000gravel orbit", False),
        ("kettle\ud800gravel orbit", False),
    ],
)
def test_length_and_letters_decide_and_nothing_about_composition(password: str, accepted: bool) -> None:
    assert (password_problems(password) == ()) is accepted


@pytest.mark.parametrize(
    "password",
    [
        "passwordpassword",
        "Password12345678",
        "P@ssw0rd-2026-!!",
        "qwertyuiopasdfgh",
        "123456789012345",
        "0987654321098765",
        "abcdefghijklmnop",
        "aaaaaaaaaaaaaaaab",
        "abcabcabcabcabcabc",
        "thermographycamera1",
        "correct horse battery staple",
        "letmeinletmein!!",
        "summer2026summer",
    ],
)
def test_long_but_early_guessed_passwords_are_refused(password: str) -> None:
    found = password_problems(password)
    assert [p.field for p in found] == ["password"]
    assert password not in repr(found), "a refusal never repeats the password"


@pytest.mark.parametrize("password", ["merrowdale-2026-water", "Ada.Penrose.1990!!", "ada.penrose@2026"])
def test_words_of_the_person_and_the_place_are_refused(password: str) -> None:
    words = ("ada.penrose", "Ada Penrose", "ada.penrose@merrowdale.example", "Merrowdale Water")
    assert password_problems(password, words=words)
    assert not password_problems(GOOD, words=words)


def test_the_guessing_rules_leave_ordinary_phrases_alone() -> None:
    phrases = [
        "kettle gravel orbit nine",
        "the weather over the lake turned",
        "Zwölf Boxkämpfer jagen Viktor",
    ]
    assert [guessable(phrase) for phrase in phrases] == ["", "", ""]


def test_the_same_keys_give_the_same_password_on_every_device(hasher: Hasher) -> None:
    composed, decomposed = "Käfer im Grünkohl fein", "Ka\u0308fer im Gru\u0308nkohl fein"
    assert composed != decomposed
    assert normal(composed) == normal(decomposed)
    assert hasher.verify(decomposed, hasher.hash(composed)) == (True, None)


def test_nothing_is_cut_off_or_trimmed(hasher: Hasher) -> None:
    encoded = hasher.hash(GOOD * 5 + " ")
    assert not hasher.verify(GOOD * 5, encoded)[0]
    assert not hasher.verify(GOOD * 5 + "  ", encoded)[0]
    assert hasher.verify(GOOD * 5 + " ", encoded)[0]


def test_a_hash_is_argon2id_salted_and_of_the_asked_cost(hasher: Hasher) -> None:
    one, other = hasher.hash(GOOD), hasher.hash(GOOD)
    assert one != other
    assert one.startswith("$argon2id$v=19$m=8,t=1,p=1$")
    # OWASP password storage, argon2id: at least m = 19456 KiB, t = 2, p = 1 (from memory)
    assert Hasher().hash(GOOD).startswith("$argon2id$v=19$m=65536,t=3,p=4$")


def test_a_stored_hash_of_another_cost_is_renewed(hasher: Hasher) -> None:
    dearer = Hasher(time_cost=2, memory_kib=16, parallelism=1)
    right, fresh = dearer.verify(GOOD, hasher.hash(GOOD))
    assert right
    assert fresh is not None
    assert fresh.startswith("$argon2id$v=19$m=16,t=2,p=1$")


def test_what_is_no_hash_opens_nothing(hasher: Hasher) -> None:
    assert [hasher.verify(GOOD, stored) for stored in ("!", "", GOOD)] == [(False, None)] * 3


def test_only_so_many_hashes_run_at_once() -> None:
    hasher = Hasher(time_cost=1, memory_kib=8, parallelism=1, at_once=2)
    encoded = hasher.hash(GOOD)
    inside, peak, lock = 0, 0, threading.Lock()
    real = hasher._hash.verify_and_update

    def watched(password: bytes, stored: str) -> tuple[bool, str | None]:
        nonlocal inside, peak
        with lock:
            inside += 1
            peak = max(peak, inside)
        try:
            return real(password, stored)
        finally:
            with lock:
                inside -= 1

    hasher._hash.verify_and_update = watched  # type: ignore[method-assign]
    threads = [threading.Thread(target=hasher.verify, args=(GOOD, encoded)) for _ in range(24)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert 1 <= peak <= 2
