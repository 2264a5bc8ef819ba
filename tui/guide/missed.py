"""Keys that came too soon after another to be taken: one of them by itself is answered. Pure."""


class Missed:
    """Counts what is swallowed until silence; the rest of a device's line is many keys, and stays unanswered.

    A key that comes again at once is its own bounce: it was answered with the first.
    """

    def __init__(self) -> None:
        self._keys: list[str] = []

    def __bool__(self) -> bool:
        return bool(self._keys)

    def swallow(self, key: str, *, bounce: bool = False) -> None:
        """Count a key that was not taken."""
        if self._keys or not bounce:
            self._keys.append(key)

    def clear(self) -> None:
        """Another key was taken: it is looked at, and not at what went before."""
        self._keys.clear()

    def alone(self) -> str:
        """Give the only key that was swallowed before this silence; empty where there was none, or a line.

        >>> missed = Missed()
        >>> missed.swallow("3")
        >>> missed.alone(), missed.alone()
        ('3', '')
        >>> missed.swallow("1"); missed.swallow("2"); missed.alone()
        ''
        """
        keys, self._keys = self._keys, []
        return keys[0] if len(keys) == 1 else ""
