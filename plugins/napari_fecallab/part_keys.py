"""Class keys of the session: proposed by host and method, changed by the person, with live counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from fecallab.domain.errors import BadInput
from napari_fecallab import keys
from napari_fecallab.core import SessionCore
from napari_fecallab.names import checked_name, group_of, label_of
from napari_fecallab.settings import write_settings
from napari_fecallab.views import ClassKey, Outcome


class KeyPart(SessionCore):
    """What the session does with keys."""

    _reserved: dict[str, str]

    def reserve_keys(self, wanted: Mapping[str, str]) -> None:
        """Say which keys are the window's own (key to what it does); no organism can be put on them."""
        self._reserved = {key.lower(): what for key, what in wanted.items()}

    def keys(self) -> tuple[ClassKey, ...]:
        """Return the class keys for the current field with live counts, first row first."""
        first, second = self._layout()
        return self._counted(
            [(key, name, row is second) for row in (first, second) for key, name in row.items()]
        )

    def without_key(self) -> tuple[ClassKey, ...]:
        """Return what is counted in the exam and has no key of its own here, by label; its ``key`` is empty."""
        on_keys = {name for row in self._layout() for name in row.values()}
        seen = {name for held in self._whole_counts().values() for name, n in held.items() if n}
        return self._counted([("", name, False) for name in sorted(seen - on_keys, key=label_of)])

    def key_name(self, text: str, *, shift: bool = False, second_row: bool = False) -> tuple[str, bool]:
        """Return the organism and whether it is sure for what was typed; an empty name for no class key.

        Shift means unsure, whatever character this keyboard types with it.
        """
        key, sure = keys.read_key(text, shift=shift, shift_row=self.settings.shift_row)
        row = self._layout()[1 if second_row else 0]
        return row.get(key, ""), sure

    def set_key(self, key: str, name: str) -> Outcome:
        """Put an organism on a key of the first row, for this person and kept; an empty name frees the key.

        Raises
        ------
        BadInput
            When the key deletes or is the window's own, or the organism is not known.
        """
        wanted = keys.refuse_bad_key(key, self._reserved)
        known = checked_name(name) if name.strip() else ""
        before = self._layout()[0]
        chosen = {k: n for k, n in self.settings.keys.items() if k != wanted and (n != known or not known)}
        chosen[wanted] = known
        self._keep(replace(self.settings, keys=chosen))
        after = self._layout()[0]
        told = []
        lost = before.get(wanted, "")
        if lost and lost != known:
            place = next((k for k, n in after.items() if n == lost), "")
            told.append(
                f"{label_of(lost)} is on {place} now." if place else f"{label_of(lost)} has no key now."
            )
        return Outcome((), f"{label_of(known)} is on {wanted}" if known else f"{wanted} is free", tuple(told))

    def reset_keys(self) -> Outcome:
        """Go back to the keys that the tables propose."""
        self._keep(replace(self.settings, keys={}))
        return Outcome((), "the keys are as proposed")

    def learn_shift_row(self, typed: str) -> Outcome:
        """Learn what Shift and 1 to 9 type here: the nine characters in order; empty forgets it."""
        if typed and (len(typed) != 9 or len(set(typed)) != 9):
            raise BadInput(
                f"Nine different signs are needed, {len(typed)} came.",
                next="Hold Shift and press 1 to 9 in order.",
                code="shift-row",
            )
        self._keep(replace(self.settings, shift_row=typed))
        return Outcome((), "Shift is learned" if typed else "Shift is forgotten")

    def names(self) -> tuple[tuple[str, str, str], ...]:
        """Return every name that can be given as key, label, group; those on keys first, then the host's."""
        first, second = self._layout()
        likely = dict.fromkeys((*first.values(), *second.values()))
        return tuple(
            (n, label_of(n), group_of(n)) for n in (*likely, *_others(self.facts.host, tuple(likely)))
        )

    def _layout(self) -> tuple[dict[str, str], dict[str, str]]:
        place = self._draft.fields.get(self._current)
        code = place.preparation if place else next(iter(self.facts.preparations))
        method = self.facts.preparations[code].method
        animal = self.facts.animal
        proposed = _proposed(
            self.facts.host,
            method,
            place.objective if place else None,
            animal.plant_eater,
            self.facts.open_targets,
        )
        return keys.laid_out(*proposed, self.settings.keys)

    def _counted(self, rows: Sequence[tuple[str, str, bool]]) -> tuple[ClassKey, ...]:
        """Return rows (key, name, whether it is of the second row) with live counts."""
        whole = self._whole_counts()
        here = {s: self._seen_in(self._current, s) for s in (True, False)}
        return tuple(
            ClassKey(
                key=key,
                name=name,
                label=label_of(name),
                group=group_of(name),
                sure=whole[True].get(name, 0),
                unsure=whole[False].get(name, 0),
                sure_here=here[True].get(name, 0),
                unsure_here=here[False].get(name, 0),
                second_row=second,
            )
            for key, name, second in rows
        )

    def _seen_in(self, uid: str, sure: bool) -> dict[str, int]:
        if uid not in self._draft.fields:
            return {}
        place, content = self._place(uid), self._content(uid)
        return content.tallies[sure] if content.marks else dict(place.counts if sure else place.unsure)

    def _whole_counts(self) -> dict[bool, dict[str, int]]:
        whole: dict[bool, dict[str, int]] = {True: {}, False: {}}
        for uid in self._draft.fields:
            for sure, held in whole.items():
                for name, n in self._seen_in(uid, sure).items():
                    held[name] = held.get(name, 0) + n
        return whole

    def _keep(self, settings: object) -> None:
        self.settings = settings  # type: ignore[assignment]
        self._tell("keys")
        write_settings(self.folder, self.by, self.settings)


@lru_cache(maxsize=64)
def _proposed(
    host: str, method: str, objective: float | None, plant_eater: bool, targets: tuple[str, ...]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    from fecallab.domain.likely import likely_organisms
    from fecallab.reference.adequacy import adequacy_routes
    from fecallab.reference.methods import methods
    from fecallab.reference.organisms import organisms_in_host

    likely = likely_organisms(
        organisms_in_host(host),
        {key: item.exam_methods for key, item in methods().items()},
        adequacy_routes(),
        method=method,
        objective=objective,
        plant_eater=plant_eater,
        open_targets=targets,
    )
    return likely.first, likely.second


@lru_cache(maxsize=64)
def _others(host: str, first: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names that have no key: groups, then organisms of the host, then all others."""
    from fecallab.domain.organism import EYE_GROUPS
    from fecallab.reference.organisms import organisms, organisms_in_host

    at_home = [item.key for item in organisms_in_host(host)]
    whole = dict.fromkeys((*EYE_GROUPS, *at_home, *(item.key for item in organisms())))
    return tuple(name for name in whole if name not in first)
