"""Views as values that every reader of JSON understands."""

import math
from collections.abc import Mapping
from typing import Any


def finite(value: Any) -> Any:
    """The same value with null for every number that is not finite, and lists for tuples."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(name): finite(entry) for name, entry in value.items()}
    if isinstance(value, list | tuple):
        return [finite(entry) for entry in value]
    return value
