"""The device's signing key."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey

from salvage.errors import MissingTool, StoreTrouble
from salvage.store.signing import is_signed, load_signer, make_signer, save_signer

# RFC 8032, section 7.1, tests 1 to 3: secret key, public key, message, signature.
PUBLISHED = (
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
            "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
            "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
            "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
)


@pytest.mark.parametrize(("secret", "public", "message", "signature"), PUBLISHED)
def test_signatures_are_the_published_ones(
    secret: str, public: str, message: str, signature: str
) -> None:
    """Whoever checks with another program comes to the same answer."""
    signer = make_signer(bytes.fromhex(secret))

    assert signer.public_key == public
    assert signer.sign(bytes.fromhex(message)) == signature
    assert is_signed(public, signature, bytes.fromhex(message))
    assert not is_signed(public, signature, bytes.fromhex(message) + b"!")


def test_a_key_comes_back_from_its_file(tmp_path: Path) -> None:
    """Only its owner can read it, and nothing else is left in the folder."""
    path = tmp_path / "proof-key.pem"
    signer = make_signer(bytes(32))
    save_signer(path, signer)
    found = load_signer(path)

    assert found is not None
    assert found.public_key == signer.public_key
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [entry.name for entry in tmp_path.iterdir()] == ["proof-key.pem"]


def test_no_file_is_no_key(tmp_path: Path) -> None:
    """The first signing makes one."""
    assert load_signer(tmp_path / "proof-key.pem") is None


def test_another_kind_of_key_is_refused(tmp_path: Path) -> None:
    """A key that agrees on secrets cannot sign."""
    path = tmp_path / "proof-key.pem"
    path.write_bytes(
        X25519PrivateKey.generate().private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )

    with pytest.raises(StoreTrouble, match="holds no signing key"):
        load_signer(path)


@pytest.mark.parametrize("harm", ["no key", "folder"])
def test_a_spoilt_key_is_told(tmp_path: Path, harm: str) -> None:
    """One line names the file and the mend."""
    path = tmp_path / "proof-key.pem"
    if harm == "folder":
        path.mkdir()
    else:
        path.write_text(harm)

    with pytest.raises(StoreTrouble, match=r"proof-key\.pem holds no signing key.*put it aside"):
        load_signer(path)


def test_a_key_that_cannot_be_kept_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fails while the key is flushed leaves neither half a key nor a part of one."""

    def fails(handle: int) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(StoreTrouble, match="cannot be written"):
        save_signer(tmp_path / "proof-key.pem", make_signer(bytes(32)))

    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("public", "signature"), [("zz", "00"), ("00", "00"), (PUBLISHED[0][1], "no hex"), ("", "")]
)
def test_what_is_no_signature_signs_nothing(public: str, signature: str) -> None:
    """Text that is no key or no signature is answered with no, not with a fault."""
    assert not is_signed(public, signature, b"")


def test_without_the_library_the_maker_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is missing and how to get it, whatever was to be done with the key."""
    save_signer(tmp_path / "proof-key.pem", make_signer(bytes(32)))
    for name in [*sys.modules]:
        if name.startswith("cryptography"):
            monkeypatch.setitem(sys.modules, name, None)

    with pytest.raises(MissingTool, match=r"'cryptography'.*pip install"):
        make_signer(bytes(32))
    with pytest.raises(MissingTool, match="pip install"):
        load_signer(tmp_path / "proof-key.pem")
    with pytest.raises(MissingTool, match="pip install"):
        is_signed("00", "00", b"")
