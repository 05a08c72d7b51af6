"""Tubes, stomach volumes, fluids and warmth as typed rows, read once."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.domain.fluids import FluidProduct, FluidRate
from fecallab.domain.taxon import Taxon
from fecallab.domain.tube import GavageLimit, TubeLandmark, TubeSize
from fecallab.domain.warmth import WarmRange
from fecallab.reference.hosts import Host, hosts, temperature_range
from fecallab.reference.tables import parts, read_rows


@cache
def tube_sizes() -> tuple[TubeSize, ...]:
    """Return the sizes of tubes that the table knows; inner diameters are typical ones, from memory."""
    return tuple(
        TubeSize(
            key=row["key"],
            french=Decimal(row["french"]),
            typical_inner_diameter_mm=Decimal(row["typical_inner_diameter_mm"]),
            inner_source_kind=row["inner_source_kind"],
            suits=row["suits"],
            note=row["note"],
        )
        for row in read_rows("tubes")
    )


@cache
def gavage_limits() -> tuple[GavageLimit, ...]:
    """Return published volumes for one gavage or one day, as shares of body weight."""
    return tuple(
        GavageLimit(
            key=row["key"],
            taxa=parts(row["taxa"]),
            what=row["what"],
            per=row["per"],
            low_percent=Decimal(row["low_percent"]),
            high_percent=Decimal(row["high_percent"]),
            words=row["words"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("gavage_limits")
    )


@cache
def tube_landmarks() -> tuple[TubeLandmark, ...]:
    """Return how far a tube goes in, by the kind of animal and a length measured on it."""
    return tuple(
        TubeLandmark(
            key=row["key"],
            taxa=parts(row["taxa"]),
            measure=row["measure"],
            low_share=Decimal(row["low_share"]),
            high_share=Decimal(row["high_share"]),
            words=row["words"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("tube_marks")
    )


@cache
def fluid_products() -> tuple[FluidProduct, ...]:
    """Return the fluids that a vet may name."""
    return tuple(
        FluidProduct(
            key=row["key"],
            name=row["name"],
            osmolarity_mosm_per_l=Decimal(row["osmolarity_mosm_per_l"])
            if row["osmolarity_mosm_per_l"]
            else None,
            words=row["words"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("fluid_products")
    )


@cache
def fluid_rates() -> tuple[FluidRate, ...]:
    """Return published and usual amounts of fluid for a day."""
    return tuple(
        FluidRate(
            key=row["key"],
            whom=row["whom"],
            low_ml_per_kg=Decimal(row["low_ml_per_kg"]),
            high_ml_per_kg=Decimal(row["high_ml_per_kg"]),
            routes=parts(row["routes"]),
            words=row["words"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("fluid_rates")
    )


def warm_range(taxon: Taxon | None, text: str = "") -> WarmRange | None:
    """Return the range of warmth of an animal, or None where none is known.

    A name that the table of hosts has itself goes first; else the rows that say which animals a range is
    meant for. Nothing is guessed from a likeness of names: relatives may live much cooler.

    Parameters
    ----------
    taxon : Taxon or None
        The animal.
    text : str
        Its name as typed.

    Examples
    --------
    >>> from fecallab.reference.taxa import resolve_taxon
    >>> found = warm_range(resolve_taxon("corn snake"))
    >>> (found.low_c, found.high_c, found.source_kind)
    (Decimal('25.0'), Decimal('32.0'), 'read')
    >>> warm_range(resolve_taxon("mandarin rat snake")) is None
    True
    """
    for name in (text, taxon.name if taxon is not None and taxon.rank == "species" else ""):
        try:
            row = temperature_range(name) if name.strip() else None
        except BadInput:
            row = None
        if row is not None and row.kind == "species":
            return _range_of(row)
    for entry in read_rows("warm_ranges"):
        if taxon is not None and any(taxon.is_a(item) for item in parts(entry["taxa"])):
            return _range_of(hosts()[entry["host"]])
    return None


def _range_of(row: Host) -> WarmRange:
    """Make the range of a row of the table of animals."""
    if row.range_low_c is None or row.range_high_c is None:
        raise ValueError(f"the animal {row.key} has half a range of warmth")
    low, _, high = row.warm_end_c.partition("-")
    return WarmRange(
        name=row.name,
        low_c=Decimal(str(row.range_low_c)),
        high_c=Decimal(str(row.range_high_c)),
        means=row.range_means,
        source_kind=row.source_kind,
        warm_end_low_c=Decimal(low) if low else None,
        warm_end_high_c=Decimal(high) if high else None,
    )
