"""Settings from the environment, RISELINE_ prefix; no instance at import."""

from pathlib import Path

from pydantic_settings import BaseSettings, SettingsConfigDict

ROOT = Path(__file__).resolve().parent.parent


class Settings(BaseSettings):
    """All that a deployment may set.

    ``database_url`` takes any SQLite or PostgreSQL address; ``demo`` shows the demonstration
    line and sign-ins (only ever on a loopback ``host``); ``secure_cookies`` must be on in
    production, where the site is served over TLS. ``unsafe_database`` lets the service start on a
    database that may lose what it acknowledged: for tests, on a loopback ``host`` only.
    """

    model_config = SettingsConfigDict(env_prefix="RISELINE_", env_file=None)

    database_url: str = f"sqlite:///{ROOT / 'var' / 'riseline.db'}"
    host: str = "127.0.0.1"
    port: int = 8321
    demo: bool = False
    unsafe_database: bool = False
    secure_cookies: bool = True
    session_hours: int = 12
    files: Path = ROOT / "var" / "files"
    #: s3://bucket/prefix for pictures; empty: they lie in ``files``. Keys come from the usual AWS_… variables
    pictures_url: str = ""
    #: address of a store of one's own that speaks S3
    pictures_endpoint: str = ""
    web: Path = ROOT / "web"
    migrations: Path = ROOT / "migrations"
    worker_thread: bool = False
    #: where `serve` leaves its process number, so that it can be stopped from another terminal
    pid_file: Path | None = None
    page_size: int = 100
    body_limit: int = 12 * 1024 * 1024
