"""
What stands inside a symbol: the bare code, or the workshop's web address with the code behind it.

Nothing personal is ever put into a symbol. An address is written in capitals, because a QR code
packs digits, capitals and ``$*+-./:`` more tightly than other text (ISO/IEC 18004, alphanumeric
mode; the space and the percent sign pack too, but have no place in an address). Schemes and host
names may be written in any case (RFC 3986, section 6.2.2.1), and the workshop's own page must
accept capitals in the path too. Whether a text is one of our codes is judged by
:func:`salvage.ids.parse_code` alone.
"""

from __future__ import annotations

import re

from salvage.errors import BadValue

# ISO/IEC 15424, symbology identifiers: a bracket, a letter for the symbology and a modifier.
_AIM_PREFIX = re.compile(r"^\][A-Za-z][0-9A-Za-z]")

# C0 and C1 control characters, the separators GS, RS and EOT among them, and the byte order mark.
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\ufeff\ufffe]")

# Scheme, host with its port, and path, of characters that a QR code packs tightly.
_ADDRESS = re.compile(r"(HTTPS?://)?([0-9A-Z][0-9A-Z.-]*(?::[0-9]+)?(?:/[0-9A-Z$*+./:-]+)?)")


def wrap(code: str, *, web_address: str = "") -> str:
    """
    The text to put into a symbol: the bare code, or an address in capitals that ends in it.

    Args:
        code: A code of ours.
        web_address: The workshop's own address; ``https://`` is put before it if it names no
            scheme. Empty for the bare code.

    Raises:
        BadValue: If the address has a character that would make the symbol larger.

    >>> wrap("BC0002J", web_address="https://tidebell.example/c/")
    'HTTPS://TIDEBELL.EXAMPLE/C/BC0002J'
    """
    if not web_address.strip():
        return code
    match = _ADDRESS.fullmatch(web_address.strip().upper().rstrip("/"))
    if not match:
        raise BadValue(
            f"'{web_address.strip()}' cannot stand in a small code",
            hint="use an address of letters, digits, dots, hyphens and slashes",
        )
    return f"{match[1] or 'HTTPS://'}{match[2]}/{code}"


def unwrap(text: str) -> str:
    """
    The part of a scanned text that may be a code.

    Takes away a scanner's symbology prefix such as ``]C1``, control characters and blanks; of an
    address only the last piece of the path is kept.

    Args:
        text: What a reader or scanner gave.

    >>> unwrap("]C1BC0002J\\r")
    'BC0002J'
    >>> unwrap("HTTPS://TIDEBELL.EXAMPLE/C/BC0002J?from=card")
    'BC0002J'
    """
    bare = _CONTROL.sub("", text).strip()
    bare = "".join(_AIM_PREFIX.sub("", bare).split())
    if "/" not in bare:
        return bare
    path = re.split(r"[?#]", bare, maxsplit=1)[0].rstrip("/")
    return path.rsplit("/", 1)[-1]
