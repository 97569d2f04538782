"""What a notebook imports: quote, curve and audit as estimators in scikit-learn's manners.

Frames go in, frozen results come out. Each estimator is a face of the one function that pages, commands and papers ask
too; nothing is computed here a second time. `dashboard/PYTHON.md` leads through it.
"""

from sludgebook.book_frames import BookFrames, read_book
from sludgebook.bounded_ridge import BoundedRidge
from sludgebook.catch_curve import CatchCurve, catch_curves
from sludgebook.practice_audit import PracticeAudit
from sludgebook.quote_forecaster import QuoteForecaster

__all__ = ["BookFrames", "BoundedRidge", "CatchCurve", "PracticeAudit", "QuoteForecaster", "catch_curves", "read_book"]
