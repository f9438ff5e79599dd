"""Whose doing a mistake of a whole mail is. Enters: what is wrong with a variant; leaves: it at its patch.

A mail without a way out of the list, or with too many styles, has no line of its own: where one patch alone
makes it so, that patch's line is told, and otherwise the variant.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from handbill.base.errors import Mistake, MistakesError
from handbill.base.source import place
from handbill.pipeline import Desk
from handbill.vary.plan import Value, Variant

Wrong = frozenset[Mistake]


class Blame:
    """Looks for the patch that makes a mistake, and remembers what each patch does alone."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._own: Wrong | None = None
        self._alone: dict[tuple[str, str | None, str | None], Wrong] = {}

    def told(self, number: int, wrong: Iterable[Mistake]) -> list[Mistake]:
        """The mistakes that rendering the variant of this number found, each where it comes from."""
        variant = self.desk.plan[number]
        if not variant.patches:
            return list(wrong)
        if self._own is None:
            self._own = self._wrong(self.desk.plan.baseline)
        return [one if one in self._own else self._at(variant, one) for one in wrong]

    def _at(self, variant: Variant, wrong: Mistake) -> Mistake:
        for value in variant.patches:
            if wrong in self._with(variant, value):
                message = f"with {value.label}, {wrong.message}"
                return replace(wrong, place=place(value.at), path=value.path, message=message)
        last = variant.patches[-1]
        return replace(wrong, place=place(last.at), path=last.path, message=f"{variant.id}: {wrong.message}")

    def _with(self, variant: Variant, value: Value) -> Wrong:
        """What is wrong with the variant where of its patches there is `value` alone."""
        key = value.label, variant.brand, variant.language
        if key not in self._alone:
            chosen = tuple(one for one in variant.values if one is value or one.brand or one.language)
            self._alone[key] = self._wrong(replace(variant, values=chosen))
        return self._alone[key]

    def _wrong(self, variant: Variant) -> Wrong:
        try:
            self.desk.render(self.desk.mail_of(variant))
        except MistakesError as error:
            return frozenset(error.mistakes)
        return frozenset()
