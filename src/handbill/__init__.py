"""handbill compiles a declared e-mail into one that can be sent. What is named here is for other programs."""

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from handbill.api import (
        Brief,
        CompiledCampaign,
        CompiledVariant,
        HandbillError,
        Mistake,
        MistakesError,
        Place,
        Workspace,
        compile,
        load,
    )

__all__ = [
    "Brief",
    "CompiledCampaign",
    "CompiledVariant",
    "HandbillError",
    "Mistake",
    "MistakesError",
    "Place",
    "Workspace",
    "compile",
    "load",
]


def __getattr__(name: str) -> Any:
    """What is public, imported when it is first asked for."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from handbill import api

    return getattr(api, name)
