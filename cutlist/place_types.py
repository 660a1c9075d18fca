"""What a plan says of the places of its bus bars: those tried, their proof, what they save, what others would cost."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from cutlist.bank.bus_bars import BarPlace


@dataclass(frozen=True)
class PlaceTried:
    """One pair of bus-bar places and what it would cost; `why_not` when it cannot be built.

    The cost is that of `PlaceProof` where places were searched together, else as conductors were priced in sizing.
    """

    positive: BarPlace
    negative: BarPlace
    cost: Decimal | None
    target_m: float
    drop: float
    why_not: str = ""


@dataclass(frozen=True)
class PlaceProof:
    """What no other place on the faces allowed can beat, and how that was shown.

    Money is for the cable of both poles, what is cut at its best, and its lugs; when a price is missing, or the stock's
    rules ask for least waste, it is the cable bought.
    """

    searched: bool  # places, studs, lengths, conductors and spools decided together; else by least cable on a grid
    words: str  # how it was proved, or why it was not
    cost: Decimal | None = None  # of what is laid
    least_cost: Decimal | None = None  # no other place costs less
    bought_um: int | None = None  # instead of money
    least_bought_um: int | None = None
    speaks_of: str = ""  # whose run lengths the bound is about
    cells_examined: int = 0
    cells_left: int = 0  # that could not be excluded
    finest_m: float = 0.0  # size of the smallest cell
    checked: bool = False  # every pair of cells was priced again by a checker that shares no code with the search
    faults: tuple[str, ...] = ()  # what that checker found wrong: then there is no bound

    @property
    def gap(self) -> float | None:
        """As a share of what is laid; None without a bound."""
        if self.cost is not None and self.least_cost is not None:
            return float(max(self.cost - self.least_cost, Decimal(0)) / self.cost) if self.cost > 0 else 0.0
        if self.bought_um and self.least_bought_um is not None:
            return max(self.bought_um - self.least_bought_um, 0) / self.bought_um
        return None


@dataclass(frozen=True)
class PlaceSaving:
    """What deciding all together saves against the naive way, both by run lengths with lugs and bends.

    Naive: both bars as near the middles of their first faces as they may stand, the smallest conductors that carry the
    current and hold the drop there, cuts by first fit. Cable of both poles, its lugs in the money.
    """

    cost: Decimal | None  # None: metres are counted
    naive_cost: Decimal | None
    laid_um: int
    naive_laid_um: int
    bought_um: int
    naive_bought_um: int
    naive_positive: BarPlace
    naive_negative: BarPlace
    naive_lead: str  # conductor
    naive_feeder: str
    naive_holds_drop: bool  # False: the drop limit does not hold there at all


@dataclass(frozen=True)
class LeastDrop:
    """Where the drop limit holds nowhere: the place at which it is missed least."""

    drop: float  # share of nominal voltage, of the circuit that is furthest over its limit: in normal use as laid
    limit: float
    circuit: str  # "in normal use", "in a surge"
    positive: BarPlace
    negative: BarPlace
    lead: str  # conductor
    feeder: str


@dataclass(frozen=True)
class FaceCost:
    """What it would cost to put one bus bar's centre here, the other bar at its best place for that."""

    pole: str
    face: str
    along_m: float  # from the face's corner
    up_m: float
    cost: Decimal | None
    target_m: float
    limit: str = ""  # the limit that forbids it; "" when it can be built
    longest_lead: str = ""  # whose run sets the length
    laid_um: int | None = None  # leads and feeders of both poles, as cut; None where nothing can be built


@dataclass(frozen=True)
class PlaceOption:
    """One of several different pairs of places, and what it trades against the others."""

    positive: BarPlace
    negative: BarPlace
    positive_turn: int  # degrees: 0 along the face, 90 up; 180 and 270 the same with stud 1 at the other end
    negative_turn: int
    cost: Decimal | None  # cable of both poles with its lugs; None: metres are counted
    drop_v: float  # the most of all loads, surges counted
    binds: str  # the limit that is nearest, and how near
    longest_run_m: float  # of the leads
    surplus_m: float  # of all leads together, at the longest run
    laid_um: int  # leads and feeders, as cut
    bought_um: int
    height_m: float  # of the lower bus bar over the site's zero
    free_m: float  # in front of the more cramped bus bar, to the next thing or wall; FREE_AHEAD_M or more
    scrap_um: int | None = None  # bought and in no piece; None: not worked out
    uneven: float | None = None  # worst share of a string away from even, both of them 1 for a full share; None: not


@dataclass(frozen=True)
class PlaceMove:
    """One bus bar moved along its face, the other one staying; studs may change."""

    pole: str
    way: str  # "up", "down", "right", "left" as one faces the mounting face
    by_m: float
    more: Decimal | None  # money; None: cannot be built there, or metres are counted
    more_um: int | None  # cable bought, where metres are counted
    why_not: str = ""


@dataclass(frozen=True)
class PlaceLandscape:
    """What other places would cost. It speaks of run lengths with lugs and bends, not of runs as laid."""

    options: tuple[PlaceOption, ...]  # the best first, each different from those before it
    moves: tuple[PlaceMove, ...]
    to_next_step_m: float | None  # all runs may turn out so much longer at the same cost; None: 2 m or more
    cost_and_drop: tuple[PlaceOption, ...] = ()  # least cost first, each with a smaller drop than the one before
    cost_and_share: tuple[PlaceOption, ...] = ()  # each with a more even share than the one before
