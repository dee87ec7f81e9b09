"""Signing in through the house's own provider, by OpenID Connect.

The authorization code flow with a nonce, a state and PKCE (OpenID Connect Core 1.0, section 3.1;
RFC 7636). The provider says who somebody is; what they may do stands in this register: an account
that is let in and has the e-mail address for which the provider vouches.
"""

import hashlib
import hmac
from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Any
from urllib.parse import urlencode, urlsplit

from authlib.common.errors import AuthlibBaseError
from authlib.integrations.requests_client import OAuth2Session
from authlib.oidc.core import CodeIDToken
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet
from requests import RequestException

from analysis.errors import StilltautError
from service.settings import Settings
from service.storage.accounts.sessions import begin_session
from service.storage.accounts.users import User, users
from service.storage.register import Register

WELL_KNOWN = "/.well-known/openid-configuration"  # OpenID Connect Discovery 1.0, section 4
SCOPE = "openid email"
SIGNED_BY = ("RS256", "RS384", "RS512", "PS256", "ES256", "ES384", "EdDSA")
PATIENCE_S = 10.0
LEEWAY_S = 60  # so far the clocks of two machines may be apart


class ProviderError(StilltautError):
    """Somebody could not be signed in through the house's provider."""


@dataclass(frozen=True)
class HouseProvider:
    """The provider as the settings name it.

    ``return_to`` is the address here to which it sends people back.
    """

    issuer: str
    client_id: str
    client_secret: str
    return_to: str

    def asks_at(self, proof: str) -> str:
        """Return the address to which a browser is sent; ``proof`` stays with the browser."""
        with self._session() as session:
            address, _state = session.create_authorization_url(
                _said(self._found(session), "authorization_endpoint"),
                state=derived(proof, "state"),
                nonce=derived(proof, "nonce"),
                code_verifier=derived(proof, "verifier"),
            )
        return str(address)

    def left_at(self, state: str) -> str:
        """Return the address at which somebody signs out there too; empty: it names none.

        OpenID Connect RP-Initiated Logout 1.0, section 2. No identity token is kept here to hint
        with, so the provider may ask who it is about.
        """
        with self._session() as session:
            address = self._found(session).get("end_session_endpoint")
        if not isinstance(address, str) or not address:
            return ""
        asked = {
            "client_id": self.client_id,
            "post_logout_redirect_uri": self.return_to.removesuffix("/house/back"),
            "state": state,
        }
        return f"{address}{'&' if '?' in address else '?'}{urlencode(asked)}"

    def vouched_for(self, proof: str, answer: str) -> str:
        """Return the e-mail address for which the provider vouches, in small letters.

        Parameters
        ----------
        proof : str
            What the browser was given when it was sent.
        answer : str
            The address at which it came back.

        Raises
        ------
        ProviderError
            If anything in the answer is not as it must be.
        """
        try:
            with self._session() as session:
                found = self._found(session)
                token = session.fetch_token(
                    _said(found, "token_endpoint"),
                    authorization_response=answer,
                    state=derived(proof, "state"),
                    code_verifier=derived(proof, "verifier"),
                    timeout=PATIENCE_S,
                )
                keys = session.get(
                    _said(found, "jwks_uri"), withhold_token=True, timeout=PATIENCE_S
                ).json()
            return self._address(token, KeySet.import_key_set(keys), derived(proof, "nonce"))
        except (AuthlibBaseError, JoseError, RequestException, ValueError, KeyError) as problem:
            raise _refused(f"{type(problem).__name__}: {problem}") from problem

    def _session(self) -> Any:
        return OAuth2Session(
            self.client_id,
            self.client_secret,
            scope=SCOPE,
            redirect_uri=self.return_to,
            code_challenge_method="S256",
        )

    def _found(self, session: Any) -> Mapping[str, Any]:
        """Return what the provider says of itself."""
        address = self.issuer.rstrip("/") + WELL_KNOWN
        try:
            answer = session.get(address, withhold_token=True, timeout=PATIENCE_S)
            answer.raise_for_status()
            found: Mapping[str, Any] = answer.json()
        except (RequestException, ValueError) as problem:
            raise _refused(f"the provider does not answer: {problem}") from problem
        if str(found.get("issuer", "")).rstrip("/") != self.issuer.rstrip("/"):
            raise _refused(f"a provider that calls itself {found.get('issuer')!r}")
        return found

    def _address(self, token: Mapping[str, Any], keys: KeySet, nonce: str) -> str:
        decoded = jwt.decode(token["id_token"], keys, algorithms=SIGNED_BY)
        claims = CodeIDToken(
            decoded.claims,
            decoded.header,
            options={
                "iss": {"values": [self.issuer, self.issuer.rstrip("/")], "essential": True},
                "aud": {"values": [self.client_id], "essential": True},
                "exp": {"essential": True},
            },
            params={
                "nonce": nonce,
                "client_id": self.client_id,
                "access_token": token.get("access_token"),
            },
        )
        claims.validate(leeway=LEEWAY_S)
        if not hmac.compare_digest(str(claims.get("nonce", "")), nonce):
            raise _refused("an answer to another question (nonce)")
        address = str(claims.get("email") or "").strip().casefold()
        if not address or claims.get("email_verified") is False:
            raise _refused("no e-mail address for which the provider vouches")
        return address


def provider_of(settings: Settings) -> HouseProvider | None:
    """Return the house's provider, or None where none is set.

    Raises
    ------
    StilltautError
        If a part of it is missing, or it would be asked without encryption.
    """
    if not settings.oidc_issuer:
        return None
    needed = ("oidc_client_id", "oidc_client_secret", "base_url")
    if missing := [name for name in needed if not getattr(settings, name)]:
        raise _unset("STILLTAUT_" + missing[0].upper(), "nothing", "what the provider gave out")
    where = urlsplit(settings.oidc_issuer)
    if where.scheme != "https" and not _on_this_machine(where.hostname or ""):
        raise _unset("STILLTAUT_OIDC_ISSUER", settings.oidc_issuer, "an address with https")
    return HouseProvider(
        settings.oidc_issuer,
        settings.oidc_client_id,
        settings.oidc_client_secret,
        f"{settings.base_url.rstrip('/')}/sign-in/house/back",
    )


def sign_in_by_house(register: Register, address: str) -> str:
    """Return what the browser of a person shows from now on.

    Raises
    ------
    ProviderError
        If not exactly one account that is let in has the address.
    """
    found = _let_in(register, address)
    if len(found) != 1:
        raise ProviderError(
            read="the provider's answer",
            where="e-mail",
            found=f"{address}, which {len(found) or 'no'} account{'s' * (len(found) > 1)} here has",
            expected="the address of one account that is let in",
            action="Ask whoever administers this service to let you in with this address.",
        )
    return begin_session(register, found[0].user)


def known_by_address(register: Register, address: str) -> User | None:
    """Return the one account that is let in and has the address, or None."""
    found = _let_in(register, address.strip().casefold())
    return found[0] if len(found) == 1 else None


def derived(proof: str, what: str) -> str:
    """Return what the provider is shown of a browser's secret: one value for each purpose.

    Examples
    --------
    >>> derived("a", "state") == derived("a", "nonce"), len(derived("a", "verifier"))
    (False, 64)
    """
    return hmac.new(proof.encode(), what.encode(), hashlib.sha256).hexdigest()


def _let_in(register: Register, address: str) -> list[User]:
    every = users(register) if address else ()
    return [one for one in every if one.active and one.email.strip().casefold() == address]


def _said(found: Mapping[str, Any], name: str) -> str:
    if not isinstance(found.get(name), str):
        raise _refused(f"a provider that names no {name}")
    return str(found[name])


def _on_this_machine(host: str) -> bool:
    try:
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


def _refused(found: str) -> ProviderError:
    return ProviderError(
        read="the provider's answer",
        where="",
        found=found,
        expected="somebody for whom the house's provider vouches",
        action="Try again, or sign in with a password of this program.",
    )


def _unset(where: str, found: str, expected: str) -> StilltautError:
    return StilltautError(
        read="settings",
        where=where,
        found=found,
        expected=expected,
        action="Set it and start again; nothing was served.",
    )
