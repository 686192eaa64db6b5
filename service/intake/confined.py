"""Hostile bytes are read in a process of its own: little memory, little time, and it may die without harm."""

import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

_CHILD = Path(__file__).with_name("confined_reader.py")


class TooMuch(Exception):
    """The reader needed more than it was given; its text says of what."""


def read_confined(reader: str, content: bytes, limits: Mapping[str, int], *, wall_s: float) -> bytes:
    """What a reader of this room answers to a content.

    Parameters
    ----------
    reader : str
        Name of its file, which runs alone and sees nothing of the service.
    content : bytes
        What it reads from its standard input.
    limits : mapping of str to int
        ``memory`` [bytes of address space] and ``seconds`` [of processor time] are enforced by the
        system; the reader is told them with all others.
    wall_s : float
        How long it is waited for [s].

    Raises
    ------
    TooMuch
        It ran out of memory or time, or died.
    """
    path = str(_CHILD.with_name(reader))
    try:
        done = subprocess.run(  # noqa: S603
            [sys.executable, "-I", str(_CHILD), path, json.dumps(limits)],
            input=content,
            capture_output=True,
            timeout=wall_s,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise TooMuch("time") from error
    if done.returncode != 0:
        raise TooMuch("memory or time")
    return done.stdout
