"""Methods as people call them in short: a float, a wet mount, a smear; where that can mean two, both are said."""

from __future__ import annotations

from fecallab.cli.common import one_of
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import METHODS

_FLOATS = ("simple_flotation", "centrifugal_flotation")
SHORT_NAMES = {
    "float": _FLOATS,
    "floating": _FLOATS,
    "flotation": _FLOATS,
    "spun_float": ("centrifugal_flotation",),
    "wet_mount": ("direct_saline_smear", "urine_wet_mount"),
    "fresh_mount": ("direct_saline_smear", "urine_wet_mount"),
    "smear": ("direct_saline_smear", "iodine_smear", "acid_fast_smear"),
    "direct_smear": ("direct_saline_smear",),
    "saline_smear": ("direct_saline_smear",),
    "saline": ("direct_saline_smear",),
    "iodine": ("iodine_smear",),
    "sediment": ("sedimentation",),
    "chamber": ("mcmaster",),
    "counting_chamber": ("mcmaster",),
    "stoll": ("stoll_dilution",),
    "wash": ("cloacal_wash",),
}


def methods_called(word: str) -> tuple[str, ...]:
    """Return the methods that a short name can mean; none for what is no short name.

    Examples
    --------
    >>> methods_called("Wet mount"), methods_called("iodine"), methods_called("simple_flotation")
    (('direct_saline_smear', 'urine_wet_mount'), ('iodine_smear',), ())
    """
    return SHORT_NAMES.get(_plain(word), ())


def method_named(text: str, option: str = "--method") -> str:
    """Return the method that an option names, by its own or by a short name that means one alone.

    Raises
    ------
    BadInput
        For a short name that can mean several, and for what is no method.

    Examples
    --------
    >>> method_named("direct smear"), method_named("McMaster")
    ('direct_saline_smear', 'mcmaster')
    """
    can_mean = methods_called(text)
    if len(can_mean) > 1:
        raise BadInput(
            f"{option} is {text[:40]!r}; that can mean {' or '.join(can_mean)}.",
            next=f"Type: {option} {can_mean[0]}",
            code="method-two-ways",
        )
    return can_mean[0] if can_mean else one_of(_plain(text), METHODS, option)


def _plain(word: str) -> str:
    return "_".join(word.strip().lower().replace("-", " ").replace("_", " ").split())
