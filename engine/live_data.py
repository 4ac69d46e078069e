"""Owns standard live-data items: what a data byte means, and so where a reading ends and in what steps it moves."""

from typing import NamedTuple

from engine.errors import InputError


class Item(NamedTuple):
    """One item of SAE J1979 / ISO 15031-5 service 01: value = byte * `factor` + `offset` in `unit`."""

    factor: float
    offset: float
    unit: str

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest value the item can show."""
        return self.offset, 255 * self.factor + self.offset


TEMPERATURE = Item(1.0, -40.0, "degC")
PRESSURE = Item(1.0, 0.0, "kPa")
PERCENT = Item(100.0 / 255.0, 0.0, "%")
# One-byte items by their parameter number (public open-source decoders and the ISO table agree on them).
ITEMS = {0x05: TEMPERATURE, 0x0B: PRESSURE, 0x0F: TEMPERATURE, 0x11: PERCENT, 0x46: TEMPERATURE}


def decode(response: str) -> tuple[float, str]:
    """Value and unit of a raw service-01 response such as "41 05 3C".

    Raises InputError where it is no such response or the item is not a
    one-byte item known here. A reader that shows another number for the same
    bytes scales them wrongly.

    >>> decode("41 05 3C")
    (20.0, 'degC')
    """
    words = response.split() if isinstance(response, str) else []
    try:
        service, number, byte = (int(word, 16) for word in words)
    except ValueError:
        raise InputError("response", response, 'it takes three bytes in hexadecimal such as "41 05 3C"') from None
    if service != 0x41 or not 0 <= byte <= 255 or number not in ITEMS:
        known = ", ".join(f"{n:02X}" for n in sorted(ITEMS))
        raise InputError("response", response, f"it starts with 41 and names one of the items {known}")
    item = ITEMS[number]
    return byte * item.factor + item.offset, item.unit
