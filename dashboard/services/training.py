"""Learn all forecasts from a build and keep them with it: the quote, what moves callbacks, how crews work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboard.services.build_tables import Read, past_job_frames, practice_frames, whole_tables
from dashboard.services.progress import Bars, no_bars

if TYPE_CHECKING:
    from models.catch.stopping.train_stopping import Learnt
    from models.drift_scan import Drift
    from models.quote.backtest import BackTest
    from models.quote.base.quote_result import Target
    from models.quote.model.callback_inputs import Returns
    from models.quote.train import TrainReport
    from pipeline.store.book import Book


@dataclass(frozen=True, slots=True, eq=False)
class Trained:
    """What was learnt: of the quote with its back-test, of return visits, and of the catch (None: too few jobs)."""

    quote: TrainReport
    returns: Returns
    catch: Learnt | None

    def as_json(self) -> dict[str, Any]:
        """As plain data: the report of the quote, and `catch`."""
        return {**self.quote.as_json(), "catch": _catch_json(self.catch)}


def train(book: Book, build: Path | None = None, *, read: Read | None = None, bars: Bars = no_bars) -> Trained:
    """Learn from a build (None: the current one) and keep the models with it. `read` gives its tables."""
    from models.catch.records.job_frames import job_catches
    from models.catch.stopping.storage import effects_of
    from models.catch.stopping.storage import learn_and_store as learn_catch
    from models.quote.model.callback_inputs import learn_and_store as learn_returns
    from models.quote.outturn import PriceInputs
    from models.quote.train import train_and_store
    from pipeline.store.pruning import sweep_models

    build = build or book.current()
    sweep_models(book)
    read, folder = read or whole_tables(build), book.models_dir(build)
    practice = practice_frames(read)
    with bars("Training") as show:
        inputs = PriceInputs(read("ftr_volume"), book.firm(), practice.callback)
        quote = train_and_store(practice.quote, practice.outcome, folder, show, inputs=inputs)
    returns = learn_returns(practice, folder)
    past = past_job_frames(read)
    effects = effects_of(past.catch_curve, read("readings"))
    with bars("Learning how crews work") as show:
        catch = learn_catch(list(job_catches(past)), folder, effects=effects, progress=show)
    return Trained(quote, returns, catch)


def is_trained(book: Book, build: Path | None = None) -> bool:
    """Whether the forecasts in use were learnt from this very build (None: the current one)."""
    build = build or book.current()
    return book.models_dir(build) == book.fitted_models(build)


def backtest(folder: Path) -> BackTest:
    """The back-test kept with the forecasts in a models folder. SludgebookError when there is none."""
    from models.quote.backtest import BackTest
    from models.quote.model.storage import load_report

    return BackTest.from_json(load_report(folder)["backtest"])


def drift(folder: Path) -> Mapping[Target, Drift | None]:
    """Whether the newest jobs differ from those before, target by target; empty of a report of an earlier version."""
    from models.drift_scan import Drift
    from models.quote.model.storage import load_report

    found = load_report(folder).get("drift", {})
    return {target: check and Drift.from_json(check) for target, check in found.items()}


def _catch_json(learnt: Learnt | None) -> dict[str, Any]:
    if learnt is None:
        return {"jobs": 0, "kinds": {}, "changes": {}, "release_effects": None}
    effects = None if learnt.effects is None else asdict(learnt.effects)
    kinds = {kind: crew.jobs for kind, crew in learnt.crews.items()}
    changes = {target: check.as_json() for target, check in learnt.changes.items()}
    return {"jobs": learnt.jobs, "kinds": kinds, "changes": changes, "release_effects": effects}
