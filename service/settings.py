"""Settings: a frozen record, read once in ``main`` from the environment over the defaults."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from analysis.errors import StilltautError, UnknownNameError

PREFIX = "STILLTAUT_"


def setting(default: Any, words: str) -> Any:
    """Return a dataclass field with its help text."""
    return field(default=default, metadata={"help": words})


@dataclass(frozen=True)
class Settings:
    """Everything a site may set. Each is read from ``STILLTAUT_<NAME IN CAPITALS>``."""

    data_dir: Path = setting(Path("data"), "Folder of the stores")
    register_url: str = setting("", "Database of the register; empty: SQLite in the data folder")
    store: str = setting("", "Store of what arrives, s3://bucket/prefix; empty: the data folder")
    store_endpoint: str = setting("", "Address of that store's server; empty: its region's own")
    store_region: str = setting("us-east-1", "Region of that store")
    host: str = setting("127.0.0.1", "Address the pages are served on")
    port: int = setting(8000, "Port the pages are served on")
    workers: int = setting(1, "Processes that serve the pages of one house")
    log: str = setting("text", "text: warnings for people; json: every request too, for machines")
    allowed_hosts: str = setting("", "Further names by which the pages may be asked, with commas")
    base_url: str = setting("", "Address written into e-mails, for example http://host:8000")
    access: str = setting(
        "open", "open: nobody signs in, on this machine alone; sign-in: everybody signs in"
    )
    signed_in_h: int = setting(8, "Hours without a page after which somebody is signed out")
    oidc_issuer: str = setting("", "The house's OpenID Connect provider; empty: none")
    oidc_client_id: str = setting("", "Under which name the provider knows this service")
    oidc_client_secret: str = setting("", "The secret that goes with it")
    oidc_name: str = setting("the house's own account", "What people call it")
    tls_cert: str = setting("", "File of the certificate, where the pages are served with TLS")
    tls_key: str = setting("", "File of the certificate's key")
    smtp_host: str = setting("", "Mail server; empty: no e-mail is sent")
    smtp_port: int = setting(25, "Port of the mail server")
    smtp_user: str = setting("", "User name at the mail server, if it wants one")
    smtp_password: str = setting("", "Password at the mail server")
    smtp_starttls: bool = setting(False, "Encrypt the mail connection with STARTTLS")
    mail_from: str = setting("stilltaut@localhost", "Sender of e-mails")
    mail_to: str = setting("", "Who is told, addresses separated by commas")
    upload_limit_mb: int = setting(200, "Largest upload taken in")
    watch_dir: str = setting("", "Folder from which complete files are taken in; empty: none")
    proxy: str = setting("", "Address of the proxy that ends TLS in front of the pages")
    as_if: str = setting(
        "", "Declared time for which answers are given (ISO; the site's zone without an offset)"
    )
    cache_dir: str = setting("", "Folder for compiled code; empty: beside the program")
    engine: str = setting(
        "threads",
        "What judges many works: threads; dask: processes of this machine; dask=ADDRESS: those of "
        "a scheduler",
    )
    # A process that serves stays below one gigabyte; what ten large rooms come to does not fit yet.
    answers_mb: int = setting(384, "Answers kept in memory [MB]; of a group, of all its houses")
    copies_mb: int = setting(
        2000, "Copies of readings kept in the data folder where they lie in a bucket [MB]; 0: none"
    )
    draws: int = setting(200, "Draws of the uncertain parameters per work")

    def with_changes(self, **changes: Any) -> "Settings":
        """Return a copy with some settings changed; None leaves one as it is."""
        values = {f.name: getattr(self, f.name) for f in fields(self)}
        return Settings(**(values | {k: v for k, v in changes.items() if v is not None}))

    def as_environment(self) -> dict[str, str]:
        """Return the variables from which another process reads the same settings."""
        return {PREFIX + f.name.upper(): str(getattr(self, f.name)) for f in fields(self)}

    @property
    def all_elsewhere(self) -> bool:
        """Whether the data folder holds nothing but what can be worked out again."""
        return bool(self.store and self.register_url)

    @property
    def database_url(self) -> str:
        """URL of the register's database."""
        return self.register_url or f"sqlite:///{self.data_dir / 'register.db'}"


def load_settings(environment: Mapping[str, str] | None = None) -> Settings:
    """Return the settings from the environment.

    Raises
    ------
    UnknownNameError
        If a ``STILLTAUT_`` variable names no setting.
    StilltautError
        If a value cannot be read as the setting's type.
    """
    environment = os.environ if environment is None else environment
    known = {f.name: f for f in fields(Settings)}
    values: dict[str, Any] = {}
    for variable, text in environment.items():
        if not variable.startswith(PREFIX):
            continue
        name = variable.removeprefix(PREFIX).lower()
        if name not in known:
            raise UnknownNameError(
                read="environment", name=variable, known=[PREFIX + n.upper() for n in known]
            )
        values[name] = _cast(variable, text, type(known[name].default))
    return Settings(**values)


def _cast(variable: str, text: str, kind: type) -> Any:
    if kind is bool:
        words = {"1": True, "true": True, "yes": True, "0": False, "false": False, "no": False}
        if text.lower() in words:
            return words[text.lower()]
    else:
        try:
            return kind(text)
        except ValueError:
            pass
    raise StilltautError(
        read="environment",
        where=variable,
        found=repr(text),
        expected={int: "a whole number", bool: "yes or no"}.get(kind, "text"),
        action="Correct the variable and start again.",
    )
