"""What templates of a circuit may see: frozen, plain values."""

from dataclasses import dataclass
from typing import ClassVar

from server.web.contexts import Bell


@dataclass(frozen=True, slots=True, kw_only=True)
class PastCircuit:
    """A circuit of this browser."""

    circuit_id: str
    words: str
    begun: str
    over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitStart:
    """The form that begins a circuit, and those begun before."""

    past: tuple[PastCircuit, ...]
    levels: tuple[int, ...]
    most_stations: int
    minutes: tuple[int, int]
    extra_percent: tuple[int, ...]
    standard: str
    client_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitPage:
    """A circuit before its first station, between two, and while the last is gathered."""

    template: ClassVar[str] = "circuit/circuit.html"
    circuit_id: str
    phase: str
    title: str
    settings: str
    standard: str
    number: int
    next_number: int
    of: int
    early: bool
    bell: Bell | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportEye:
    """One eye of a station: its error as written, and what it is."""

    name: str
    error: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportStation:
    """One station of the report."""

    number: int
    attempt_id: str
    who: str
    level: int
    eyes: tuple[ReportEye, ...]
    total: str
    low: bool
    used: str
    extra: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportPage:
    """What a circuit came to."""

    template: ClassVar[str] = "circuit/report.html"
    circuit_id: str
    sentence: str
    passed: bool
    begun: str
    settings: str
    standard: str
    mean: str
    stations: tuple[ReportStation, ...]
    weakest: tuple[str, ...]
    extra: str
