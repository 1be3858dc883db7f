"""What a browser sent, read without trust."""

from uuid import UUID


def uuid_of(text: str) -> UUID | None:
    """The UUID in its usual form, None for anything else."""
    try:
        found = UUID(text)
    except ValueError:
        return None
    return found if str(found) == text.lower() else None
