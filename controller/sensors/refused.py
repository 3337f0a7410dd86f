"""What to say of a pin that cannot be had as an input."""


def refused(pin: int, what: str, error: Exception) -> OSError:
    """The error to raise from the pin library's own, in words a person can act on.

    Args:
        pin: BCM number.
        what: what is wired to it, as "float of sump main".
        error: what the pin library said.
    """
    return OSError(
        f"GPIO {pin} ({what}) cannot be used as an input: {error}. "
        "Check that no other program holds it and that this user may use the GPIO pins."
    )
