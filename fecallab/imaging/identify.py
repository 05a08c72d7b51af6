"""The shortlist asked of the tables: host and method by their names, sizes with their uncertainty."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fecallab.domain.errors import BadInput
from fecallab.domain.identify import Seen, Shortlist, shortlist
from fecallab.domain.measuring import Amount
from fecallab.reference.methods import methods
from fecallab.reference.organisms import organisms, organisms_in_host

DEFAULT_ERROR_UM = 1.0
"""Half width of a length whose uncertainty is not given: the edges of an egg (common practice, no source)."""


def identify(
    host: str,
    *,
    length: Amount | None = None,
    width: Amount | None = None,
    method: str = "",
    shape: str | Sequence[str] = (),
    moves: bool | None = None,
) -> Shortlist:
    """Return what an object may be.

    Parameters
    ----------
    host : str
        Key or another name of the host table.
    length, width : Amount, optional
        µm with their intervals.
    method : str, optional
        Method of the preparation: ``direct_saline_smear``, ``simple_flotation`` …
    shape : str or sequence of str, optional
        Words about its look.
    moves : bool, optional
        Whether it moved by itself; None when unknown.

    Raises
    ------
    BadInput
        An unknown host or method, or nothing to go by.

    Examples
    --------
    >>> found = identify("bearded dragon", length=Amount(24.5, 1.0), width=Amount(24.0, 1.0))
    >>> "isospora_amphiboluri_sporulated" in [one.key for one in found.fits]
    True
    """
    words = tuple(re.findall(r"[\w-]{3,}", shape)) if isinstance(shape, str) else tuple(shape)
    if length is None and not words and moves is None:
        raise BadInput(
            "There is nothing to go by: neither a size, nor words about its shape, nor whether it moved.",
            next="Give --length-um and --width-um, or --shape, or --moving.",
            code="nothing-to-go-by",
        )
    exam_methods = {key: (*one.exam_methods, key) for key, one in methods().items()}
    if method and not any(method in words_of for words_of in exam_methods.values()):
        known = sorted({word for words_of in exam_methods.values() for word in words_of})
        raise BadInput(
            f"There is no method '{method[:40]}'.",
            next=f"Name one of: {', '.join(known)}",
            code="method-unknown",
        )
    in_host = {item.key for item in organisms_in_host(host)}
    seen = Seen(length=length, width=width, shape_words=words, moves=moves, method=method)
    return shortlist(seen, organisms(), in_host, exam_methods)
