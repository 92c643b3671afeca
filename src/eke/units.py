"""Millimetres, degrees and money: the quantities that every other folder speaks in.

Inside the program a length is a ``float`` in millimetres and an angle a ``float`` in degrees. Inches,
points and pixels exist at the doors only; the factors for them live here. Money is an integer number of
minor units (cents) with an ISO 4217 code.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from typing import Final

from eke.errors import BadInput

MM_PER_INCH: Final = 25.4
"""Exact by the international yard and pound agreement of 1959."""
MM_PER_POINT: Final = MM_PER_INCH / 72.0
"""A PDF user-space unit (ISO 32000-1, 8.3.2.3)."""
GSM_PER_OZ_YD2: Final = 33.906
"""Grams per square metre in one ounce per square yard (28.3495 g / 0.836127 m²)."""

_MINOR_DIGITS: Final[dict[str, int]] = dict.fromkeys(
    (
        "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF",
        "UGX", "UYI", "VND", "VUV", "XAF", "XOF", "XPF",
    ), 0,
) | dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3)  # fmt: skip
"""Currencies whose minor unit is not a hundredth (ISO 4217 table A.1, from memory)."""

CURRENCIES: Final[frozenset[str]] = frozenset(
    """AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD
    CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ
    GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR
    LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN
    PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB
    TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYI UYU UZS VES VND VUV WST XAF XCD XCG XOF XPF YER ZAR ZMW
    ZWG""".split()
)
"""ISO 4217 alphabetic codes of circulating currencies (from memory, as of 2025)."""


def minor_digits(currency: str) -> int:
    """Return the number of decimal digits of ``currency``'s minor unit.

    Raises
    ------
    BadInput
        When ``currency`` is not a code of ISO 4217.
    """
    if currency not in CURRENCIES:
        raise BadInput(
            f"“{currency}” is not a currency code. Use the three letters of ISO 4217, such as EUR, GBP or SEK."
        )
    return _MINOR_DIGITS.get(currency, 2)


@dataclass(frozen=True, slots=True, order=False)
class Money:
    """An exact amount: ``minor`` units (cents) of ``currency`` (ISO 4217)."""

    minor: int
    currency: str

    def __post_init__(self) -> None:
        minor_digits(self.currency)

    @classmethod
    def parse(cls, amount: str, currency: str) -> Money:
        """Read a typed amount such as ``"4.50"`` or ``"4,5"``.

        Raises
        ------
        BadInput
            When the amount is no number, is finer than the minor unit, or the currency is unknown.
        """
        digits = minor_digits(currency)
        try:
            value = Decimal(amount.strip().replace(",", "."))
        except InvalidOperation:
            value = Decimal("NaN")
        if not value.is_finite():
            raise BadInput(f"“{amount}” is not an amount of money. Type it as in 4.50.")
        scaled = value.scaleb(digits)
        if scaled != scaled.to_integral_value():
            raise BadInput(f"“{amount}” has more than the {digits} decimals that {currency} has.")
        return cls(int(scaled), currency)

    def _same(self, other: Money) -> None:
        if self.currency != other.currency:
            raise BadInput(
                f"{self} and {other} are in two currencies. Give a rate to add them up, such as 1 "
                f"{other.currency} = 1.10 {self.currency}."
            )

    def __add__(self, other: Money) -> Money:
        self._same(other)
        return Money(self.minor + other.minor, self.currency)

    def __sub__(self, other: Money) -> Money:
        self._same(other)
        return Money(self.minor - other.minor, self.currency)

    def __neg__(self) -> Money:
        return Money(-self.minor, self.currency)

    def converted(self, currency: str, rate: Decimal) -> Money:
        """Return this amount in ``currency``, where one unit of this currency costs ``rate`` of it.

        Rounded half to even at the minor unit of the target.
        """
        if not rate.is_finite() or rate <= 0:
            raise BadInput(
                f"A rate of {rate} makes no sense: type how much one {self.currency} is in {currency}."
            )
        major = Decimal(self.minor).scaleb(-minor_digits(self.currency)) * rate
        minor = major.scaleb(minor_digits(currency)).to_integral_value(rounding=ROUND_HALF_EVEN)
        return Money(int(minor), currency)

    def __str__(self) -> str:
        digits = minor_digits(self.currency)
        value = Decimal(self.minor).scaleb(-digits)
        return f"{value:.{digits}f} {self.currency}"


def format_mm(mm: float, unit: str = "mm") -> str:
    """Return a length as a maker reads it: ``mm``, ``cm`` (to a millimetre) or ``inch`` (to 1/16)."""
    if unit == "cm":
        return f"{mm / 10:.1f} cm"
    if unit == "inch":
        sixteenths = round(abs(mm) / MM_PER_INCH * 16)
        whole, part = divmod(sixteenths, 16)
        sign = "-" if mm < 0 and sixteenths else ""
        if not part:
            return f"{sign}{whole} in"
        denominator = 16
        while part % 2 == 0:
            part, denominator = part // 2, denominator // 2
        return f"{sign}{f'{whole} ' if whole else ''}{part}/{denominator} in"
    text = f"{mm:.1f}".removesuffix(".0")
    return f"{'0' if text == '-0' else text} mm"
