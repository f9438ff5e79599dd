"""How a campaign is compiled. Enters: what a caller asks for; leaves: it as data, and what decides the bytes.

Nothing slow is imported here: a run that finds nothing changed asks for no more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handbill.base.frozen import dataclass

if TYPE_CHECKING:
    from concurrent.futures import Executor


@dataclass(frozen=True, slots=True)
class How:
    """How a campaign is compiled.

    `variants` are the ids of those to make, all when there are none. `jobs` processes share the work, or
    whatever `executor` runs on: its workers read the workspace under the same path, and only plain data and
    bytes cross. A `strict` run takes what preflight's cheap rules find for mistakes.
    """

    brand: str | None = None
    pictures: str = "base"
    variants: tuple[str, ...] = ()
    jobs: int = 1
    executor: Executor | None = None
    strict: bool = False

    def options(self) -> list[str | None]:
        """What decides the bytes; who makes them does not."""
        return [self.brand, self.pictures, str(self.strict), *sorted(set(self.variants))]
