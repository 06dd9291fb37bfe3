"""What can be wrong with a call of a model.

Tree::

    ModelError (ValueError)
      ShapeError        an array has the wrong number of axes or the wrong length
      OutOfRangeError   a number lies outside what the method is defined for

Bad *data* is no error: a model answers NaN, or names the series and the reason.
"""


class ModelError(ValueError):
    """A model was called in a way that has no answer."""

    code = "model-misused"


class ShapeError(ModelError):
    """An array argument has the wrong shape.

    Parameters
    ----------
    name : str
        The argument.
    allowed : str
        What its shape must be, in words.
    shape : tuple of int
        What it was.
    """

    code = "wrong-shape"

    def __init__(self, name: str, allowed: str, shape: tuple[int, ...]) -> None:
        self.name = name
        self.allowed = allowed
        self.shape = shape
        super().__init__(f"{name} must have {allowed}; its shape was {shape}")


class OutOfRangeError(ModelError):
    """A number or a word lies outside what is allowed.

    Parameters
    ----------
    name : str
        The argument.
    allowed : str
        What it must be, in words.
    value : object
        What it was.
    """

    code = "out-of-range"

    def __init__(self, name: str, allowed: str, value: object) -> None:
        self.name = name
        self.allowed = allowed
        self.value = value
        super().__init__(f"{name} must be {allowed}; it was {value!r}")
