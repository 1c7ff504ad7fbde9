"""Steps of a hunt over HTTP.

Enters: requests. Leaves: the views of the workflow as JSON, sound, figures and problem documents. Adds nothing but the
manners of HTTP: who may ask, how large a body may be, what a status says, which answers may be kept.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from optimiser.service.desk import Rules
    from optimiser.service.serving import Serving, serve
    from optimiser.service.web_app import build_app

_FILES: Final[dict[str, str]] = {"Rules": "desk", "Serving": "serving", "build_app": "web_app", "serve": "serving"}

__all__ = ["Rules", "Serving", "build_app", "serve"]


def __getattr__(name: str) -> object:
    """Load a public name from its file on first use (PEP 562), so that a quick command does not wait for HTTP."""
    if name not in _FILES:
        raise AttributeError(f"module 'optimiser.service' has no attribute {name!r}")
    return getattr(import_module(f"optimiser.service.{_FILES[name]}"), name)
