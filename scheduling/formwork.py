"""The form: built or cleaned, released and caulked, up to the last look into it."""

from __future__ import annotations

from scheduling.draft import ProcessDraft
from scheduling.laws import silicone_cure_minutes
from scheduling.process import Gap, Phase, StepKey
from scheduling.spread import Spread
from scheduling.thresholds import ESTIMATE, Threshold
from scheduling.work import HANDS_ON, RATES, REUSED_FORM


def make_form(draft: ProcessDraft) -> None:
    """Adds the work on the form; on a reused one there is less of it."""
    if draft.casting == 1:
        _measure(draft)
    _build(draft)
    _step(draft, "clean", "form build", "vacuum, de-grease, wipe off static")
    if draft.job.release == "before caulk":
        _release(draft)
        _caulk(draft)
    else:
        _caulk(draft)
        _release(draft)
    haze = draft.threshold("release haze")
    draft.add(
        "last-look",
        "caulk",
        "last look in raking light, photo",
        gaps=(Gap("release haze", "release", StepKey("wax"), haze),),
        pour_day=True,
    )


def _step(
    draft: ProcessDraft,
    step: str,
    phase: Phase,
    words: str,
    *equipment: str,
    rate: str = "",
    gaps: tuple[Gap, ...] = (),
) -> StepKey | None:
    """Adds a step of form work, less of it on a reused form; none if no work."""
    share = 1.0 if draft.casting == 1 else REUSED_FORM
    work = RATES[rate or step].minutes(draft.whole) * share
    if work <= 0:
        return None
    return draft.add(
        step, phase, words, work=work, equipment=equipment, gaps=gaps, pausable=True
    )


def _measure(draft: ProcessDraft) -> None:
    phase: Phase = "form build"
    if draft.wants("template"):
        words = "template on site: walls, access, plumbing"
        _step(draft, "template", phase, words)
    if draft.wants("drawing"):
        _step(draft, "drawing", phase, "drawing, seams, cut list; mirrored")


def _build(draft: ProcessDraft) -> None:
    phase: Phase = "form build"
    _step(draft, "base", phase, "level and clean table and base board")
    _step(draft, "cut-strips", phase, "cut strips and boards", "saw")
    _step(draft, "assemble", phase, "assemble, screw, brace")
    _step(draft, "square-check", phase, "diagonals square, legs plumb")
    _step(draft, "edge-seal", phase, "seal cut edges, screws, pinholes")
    _step(draft, "knock-outs", phase, "fix knock-outs, measured twice")
    _step(draft, "basin-plugs", phase, "basin plug, slot, falls: prove the fall")
    _step(draft, "insert-jigs", phase, "jig inserts, trial fit")


def _release(draft: ProcessDraft) -> None:
    words = "release: wax, haze, buff; no streaks"
    draft.add("wax", "release", words, pausable=True)


def _caulk(draft: ProcessDraft) -> None:
    if draft.takeoff.fillet_m <= 0:
        return
    if draft.job.fillet == "clay":
        words = "clay fillets, scraped clean"
        _step(draft, "fillets", "caulk", words, rate="clay-fillets")
        return
    words = "caulk fillets, tool before skin"
    fillets = _step(draft, "fillets", "caulk", words)
    if fillets is None:
        return
    minutes = Spread(silicone_cure_minutes(draft.job.fillet_radius), HANDS_ON.sigma)
    cure = Threshold("silicone cure", minutes, "silicone", "shop", ESTIMATE)
    _step(
        draft,
        "peel",
        "caulk",
        "peel squeeze-out, clean residue",
        gaps=(Gap("silicone cure", "caulk", fillets, cure),),
    )
