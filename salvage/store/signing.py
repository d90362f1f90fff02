"""
A device's Ed25519 key (RFC 8032): kept beside the database, never in the journal or a bundle.

Who has the file can sign as this device, so it is readable by its owner alone.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import MissingTool, StoreTrouble
from salvage.store.durable import put_file
from salvage.store.files import plain_os_errors

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY_NAME = "proof-key.pem"
"""The key's file in the workshop's folder."""


class Signer:
    """
    A key that signs.

    Args:
        key: From the library.
    """

    def __init__(self, key: Ed25519PrivateKey) -> None:
        self._key = key

    @property
    def public_key(self) -> str:
        """The 32 bytes of the public key, in hexadecimal."""
        return self._key.public_key().public_bytes_raw().hex()

    def sign(self, message: bytes) -> str:
        """The 64 bytes of the signature, in hexadecimal."""
        return self._key.sign(message).hex()

    def pem(self) -> bytes:
        """The private key as PKCS #8 in PEM, as openssl reads it."""
        from cryptography.hazmat.primitives import serialization

        return self._key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )


def make_signer(seed: bytes) -> Signer:
    """
    A new key.

    Args:
        seed: 32 random bytes.
    """
    try:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    except ImportError as error:
        raise _missing() from error
    return Signer(Ed25519PrivateKey.from_private_bytes(seed))


def load_signer(path: Path) -> Signer | None:
    """
    The key that lies in a file, or None where there is none.

    Raises:
        StoreTrouble: If the file holds no Ed25519 key.
    """
    if not path.exists():
        return None
    try:
        from cryptography.hazmat.primitives import serialization
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    except ImportError as error:
        raise _missing() from error
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError, TypeError) as error:
        raise _unreadable(path) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise _unreadable(path)
    return Signer(key)


def _unreadable(path: Path) -> StoreTrouble:
    return StoreTrouble(
        f"{path} holds no signing key that can be read",
        hint="put it aside; the next signing makes a new key, and old checkpoints stay good",
    )


def _missing() -> MissingTool:
    return MissingTool(
        "signing needs the library 'cryptography', which is not there",
        hint="install it with: pip install cryptography",
    )


def save_signer(path: Path, signer: Signer) -> None:
    """
    Keep a key in a file that only its owner can read; durable when it returns.

    Raises:
        StoreTrouble: If the folder cannot be written.
    """
    with plain_os_errors(path):
        put_file(path, signer.pem(), mode=0o600)


def is_signed(public_key: str, signature: str, message: bytes) -> bool:
    """
    Whether a signature is that of the key over the message.

    Args:
        public_key: 32 bytes in hexadecimal.
        signature: 64 bytes in hexadecimal.
        message: Exactly the bytes that were signed.
    """
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ImportError as error:
        raise _missing() from error
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_key))
        key.verify(bytes.fromhex(signature), message)
    except (InvalidSignature, ValueError):
        return False
    return True
