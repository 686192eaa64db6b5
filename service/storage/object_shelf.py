"""The same shelf in an object store that speaks S3: equal contents have one name and lie there once."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service.errors import NotFound, StorageFull, Unavailable
from service.storage.files import FileShelf, Shelf, checked_name

_ADDRESS = re.compile(r"s3://(?P<bucket>[a-z0-9][a-z0-9.-]{1,61}[a-z0-9])(?:/(?P<prefix>[\w!./-]*))?")
#: what a store answers when there is nothing under a name
_ABSENT = frozenset({"404", "NoSuchKey", "NotFound"})
#: and when it takes no more
_NO_ROOM = frozenset({"507", "InsufficientStorage", "QuotaExceeded", "XMinioStorageFull", "EntityTooLarge"})
CONNECT_SECONDS = 5
READ_SECONDS = 20


def open_shelf(folder: Path, *, url: str = "", endpoint: str = "") -> Shelf:
    """The folder beside the database, or the bucket that ``url`` (s3://bucket/prefix) names.

    Raises
    ------
    service.errors.Unavailable
        The address is none, or the programs for it are not installed.
    """
    if not url:
        return FileShelf(folder)
    found = _ADDRESS.fullmatch(url.rstrip("/"))
    if found is None:
        raise Unavailable(
            f"{url} is no address of a bucket", remedy="Set RISELINE_PICTURES_URL to s3://bucket/prefix."
        )
    try:
        import boto3
        from botocore.config import Config
    except ImportError as error:
        raise Unavailable(
            "Nothing here speaks to an object store", remedy="Install Riseline with the extra 's3'."
        ) from error
    patience = Config(
        connect_timeout=CONNECT_SECONDS,
        read_timeout=READ_SECONDS,
        retries={"max_attempts": 3, "mode": "standard"},
    )
    client = boto3.client("s3", endpoint_url=endpoint or None, config=patience)
    return ObjectShelf(client, found["bucket"], (found["prefix"] or "").strip("/"))


@dataclass(frozen=True, slots=True)
class ObjectShelf:
    """A bucket of files that never change; ``client`` speaks S3."""

    client: Any
    bucket: str
    prefix: str = ""

    def keep(self, name: str, content: bytes) -> None:
        """Put a content under its name; the store has it when this returns.

        A put appears whole or not at all, as the store promises of single puts.

        Raises
        ------
        service.errors.StorageFull
            There is no room; nothing of it was kept.
        service.errors.Unavailable
            The store does not answer, or refuses.
        """
        if self._size(name) == len(content):
            return
        self._ask("put_object", name, Body=content, ContentLength=len(content))

    def read(self, name: str) -> bytes:
        """The content under a name.

        Raises
        ------
        service.errors.NotFound
            It is not there.
        service.errors.Unavailable
            The store does not answer, or refuses.
        """
        answer = self._ask("get_object", name)
        if answer is None:
            raise NotFound(
                "This file is not kept here any more.",
                remedy="Restore the bucket of pictures that belongs to this database.",
            )
        content: bytes = answer["Body"].read()
        return content

    def has(self, name: str) -> bool:
        return self._size(name) is not None

    def __str__(self) -> str:
        return f"s3://{self.bucket}/{self.prefix}".rstrip("/")

    def _size(self, name: str) -> int | None:
        answer = self._ask("head_object", name)
        return None if answer is None else int(answer["ContentLength"])

    def _ask(self, what: str, name: str, **more: Any) -> dict[str, Any] | None:
        """An answer of the store; None where nothing lies under the name."""
        from botocore.exceptions import BotoCoreError, ClientError

        key = "/".join(part for part in (self.prefix, checked_name(name)) if part)
        try:
            answer: dict[str, Any] = getattr(self.client, what)(Bucket=self.bucket, Key=key, **more)
        except ClientError as error:
            code = str(error.response.get("Error", {}).get("Code", ""))
            if code in _ABSENT and what != "put_object":
                return None
            if code in _NO_ROOM:
                raise StorageFull("There is no room to keep this file; nothing of it was kept") from error
            raise self._away(code) from error
        except BotoCoreError as error:
            raise self._away(type(error).__name__) from error
        return answer

    def _away(self, why: str) -> Unavailable:
        return Unavailable(
            f"The store of pictures does not answer as it should ({why})",
            remedy="Try again in a minute; readings are not touched by this.",
        )
