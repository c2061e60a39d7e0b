"""What a search may not find, in tests that are about what was found."""

from typing import TypeVar

Found = TypeVar("Found")

__all__ = ["there"]


def there(found: Found | None) -> Found:
    """What was found; the test fails if it is `None`."""
    assert found is not None
    return found
