"""What the audit report says, in words and rows: one content for whatever prints it."""

from __future__ import annotations

from dataclasses import dataclass

from dashboard.words import audit_words, firm_against_others, wording
from dashboard.words.audit_words import avoided, in_order
from models.practice.results.audit_result import Audit, PracticeEffect
from models.practice.results.pool_results import OwnFirm

METHODS: tuple[str, ...] = (
    "Outcome: a first callback for debris within the horizon after the visit. Jobs followed for less stand in with "
    "what is known of them and of like jobs (pseudo-outcomes; Andersen et al. 2003).",
    "Adjusted difference: cross-fitted and doubly robust (AIPW; Robins et al. 1994, Chernozhukov et al. 2018), for "
    "what was known at survey, the engineer and the other practices of the job. Both a model of who does it and a "
    "model of callbacks are used; one of them being right is enough.",
    "Jobs without a like job done the other way are left out and counted; too little overlap is refused.",
    "Intervals are at 95 %, from influence functions, by engineer where there are enough. Verdicts hold chance "
    "findings among them to 5 % (Benjamini and Hochberg 1995).",
    "E-value: how strongly something not on record would have to drive both practice and callbacks to explain the "
    "effect away (VanderWeele and Ding 2017).",
    "Engineers: callbacks seen over those expected of the very jobs, exact interpolated limits, over-dispersion "
    "allowed for (Spiegelhalter 2005). No ranking; engineers with few jobs are not shown.",
)
"""How it is worked out; sources as in the METHODS.md of `models/practice`."""
CAUTIONS: tuple[str, ...] = (
    "The audit adjusts for what is on record. It cannot see what nobody wrote down.",
    "Not told yet is not the same as without effect: the table says how many more jobs it would take.",
    "A practice that cuts callbacks can still hurt someone: hot water scalds, chemicals burn, and what is let out may "
    "need consent. Local codes, makers' instructions and licensed practice come first.",
    "No figure here is a ground for judging a person: ask first how jobs and callbacks were logged.",
)
WORDS: tuple[tuple[str, str], ...] = (
    ("Adjusted", "as if the practice had been used on the same mix of systems as its absence"),
    ("Bare records", "the difference as the records stand, before adjusting"),
    ("Interval", "of 100 such ranges some 95 hold the true figure"),
    ("Debris callback", "a return visit for a blockage, a cold emitter, noise or a pump, or logged as debris"),
    ("Cannot be told yet", "the records do not settle it; about so many more jobs would show a change worth having"),
    ("Pre-dose", "cleaning chemical left to work in the system for days before the flush"),
)


@dataclass(frozen=True, slots=True)
class AuditContents:
    """The audit report. `effects` rows: practice, jobs with and without, avoided, interval, bare, verdict, more jobs;
    `worth` rows: practice, cost a job, cost per callback avoided, net a job, its range; `focus` is drawn in depth;
    `against` rows, for one firm of several: practice, own, the others, one more firm, how it compares."""

    answer: str
    about: str
    notes: tuple[str, ...]
    effects: tuple[tuple[str, str, str, str, str, str, str, str], ...]
    refusals: tuple[str, ...]
    focus: PracticeEffect | None
    focus_lines: tuple[str, ...]
    worth: tuple[tuple[str, str, str, str, str], ...]
    engineers: str
    left_out: str
    assumptions: tuple[str, ...]
    confounders: str
    against: tuple[tuple[str, str, str, str, str], ...] = ()
    against_lines: tuple[str, ...] = ()
    methods: tuple[str, ...] = METHODS
    cautions: tuple[str, ...] = CAUTIONS
    words: tuple[tuple[str, str], ...] = WORDS


def audit_contents(audit: Audit, view: OwnFirm | None = None) -> AuditContents:
    """All words of the paper from one audit, and from one firm against the others."""
    ordered = in_order(audit.practices)
    focus = next((each for each in ordered if each.difference is not None and each.contrast in audit.curves), None)
    out = audit_words.left_out(audit.left_out)
    return AuditContents(
        answer=audit_words.answer(audit),
        about=audit_words.about(audit),
        notes=tuple(each.sentence for each in audit.findings),
        effects=tuple(_row(each) for each in ordered),
        refusals=tuple(each.refused for each in ordered if each.refused),
        focus=focus,
        focus_lines=() if focus is None else _in_depth(focus),
        worth=tuple(row for row in (_worth(each) for each in ordered) if row),
        engineers=_engineers(audit),
        left_out=f"Left out of all of it, {out}." if out else "",
        assumptions=audit.assumptions,
        confounders=f"{wording.listed([each.label for each in audit.confounders])}.",
        against=() if view is None else tuple(firm_against_others.row(each) for each in view.practices),
        against_lines=()
        if view is None
        else (firm_against_others.answer(view), *firm_against_others.missing(view), firm_against_others.note(view)),
    )


def _row(effect: PracticeEffect) -> tuple[str, str, str, str, str, str, str, str]:
    jobs = effect.label, f"{effect.jobs_with:,}", f"{effect.jobs_without:,}"
    is_told = effect.verdict != "cannot be told yet"
    more = "–" if is_told or effect.jobs_needed is None else f"{effect.jobs_needed:,}"
    if effect.difference is None:
        return (*jobs, "–", "–", "–", effect.verdict, more)
    middle, low, high = audit_words.avoided_by(effect)
    raw = effect.raw
    bare = "–" if raw is None else audit_words.signed(avoided(raw.difference, raw.low, raw.high)[0])
    ends = f"{audit_words.signed(low)} to {audit_words.signed(high)}"
    return (*jobs, audit_words.signed(middle), ends, bare, effect.verdict, more)


def _in_depth(effect: PracticeEffect) -> tuple[str, ...]:
    found = (
        audit_words.effect_sentence(effect),
        audit_words.hidden(effect),
        audit_words.power(effect),
        audit_words.who(effect),
        *(each.sentence for each in effect.findings),
    )
    return tuple(each for each in found if each)


def _worth(effect: PracticeEffect) -> tuple[str, str, str, str, str] | None:
    worth = effect.worth
    if worth is None:
        return None
    cost, net, low, high = (
        wording.money(amount, worth.currency)
        for amount in (worth.cost_per_job, worth.net_per_job, worth.net_low, worth.net_high)
    )
    shown = worth.cost_per_avoided
    one = "–" if shown is None else wording.money(shown, worth.currency)
    return effect.label, cost, one, net, f"{low} to {high}"


def _engineers(audit: Audit) -> str:
    funnel = audit.funnel
    if funnel.refused:
        return funnel.refused
    places = [each.place for each in funnel.engineers]
    told = [f"{wording.count(places.count(place), 'engineer')} {place}" for place in dict.fromkeys(places)]
    return f"{wording.listed(told)}. The outer limits hold 99.8 % of what chance brings. Nobody is named or ranked."
