"""The exceptions that a caller of ``optics`` may need to catch.

ValueError
└── OpticsError
    ├── PowerError      a lens power outside its domain
    ├── NotationError   a written prescription that was not understood
    ├── LensError       a lens that does not exist or is not in the set
    ├── FrameError      a cell that does not exist or is taken
    ├── EyeError        facts of an eye outside their domain
    └── TargetError     a chart, line or letter that does not exist
"""


class OpticsError(ValueError):
    """Base of every error that a caller of ``optics`` may need to catch."""


class PowerError(OpticsError):
    """A lens power outside its domain."""


class NotationError(OpticsError):
    """A written prescription, lens or acuity that was not understood."""


class LensError(OpticsError):
    """A trial lens that does not exist, or that the set does not hold any more."""


class FrameError(OpticsError):
    """A cell that does not exist or already holds a lens."""


class EyeError(OpticsError):
    """Facts of an eye outside their domain."""


class TargetError(OpticsError):
    """A chart, line or letter that does not exist."""
