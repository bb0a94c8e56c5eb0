"""What the tests of drawings look at in a picture."""

from reelcare.core.drawing.canvas import Picture


def tags(picture: Picture) -> set[str]:
    """Everything that is seen in it, by tag."""
    return {tag for row in picture.tags for tag in row}
