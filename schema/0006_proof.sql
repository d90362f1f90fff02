-- Donors who are forgotten, and the devices' public keys.

CREATE TABLE forgotten (
    donor TEXT PRIMARY KEY,
    at    TEXT NOT NULL
) STRICT;

-- A device may lose its key and make another; what the old one signed stays good.
CREATE TABLE device_key (
    letter     TEXT NOT NULL CHECK (length(letter) = 1),
    public_key TEXT NOT NULL CHECK (length(public_key) = 64),
    at         TEXT NOT NULL,
    PRIMARY KEY (letter, public_key)
) STRICT;
