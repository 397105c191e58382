"""After the pour: cured under cover, demoulded, finished and sealed."""

from __future__ import annotations

from scheduling.draft import ProcessDraft
from scheduling.job import Piece
from scheduling.laws import drying_thickness_factor
from scheduling.process import Gap, Phase, StepKey
from scheduling.thresholds import (
    ESTIMATE,
    PENETRATING_FAMILIES,
    PRACTICE,
    RECOAT,
    SEALER_POT_LIFE,
    Threshold,
)

_SCREED = StepKey("screed")


def cure(draft: ProcessDraft) -> None:
    """Adds the covering, and what is done while the concrete is green."""
    after = (_SCREED,)
    if draft.wants("coupon"):
        words = "coupon board and name tag"
        after = (draft.add("coupon", "cure", words, unbroken=True),)
    cover_by = draft.threshold("cover by")
    cover = draft.add(
        "cover",
        "cure",
        "cover with plastic, edges sealed, no loose flaps",
        after=after,
        gaps=(Gap("", "cure", _SCREED, closes=cover_by),),
        unbroken=True,
    )
    draft.add(
        "wash-tools", "cure", "wash tools before set", after=(_SCREED,), unbroken=True
    )
    before = (_green_trim(draft, cover),) if draft.wants("green trim") else (cover,)
    draft.add("blankets", "cure", "blankets on, probe in, log the shop", after=before)


def _green_trim(draft: ProcessDraft, cover: StepKey) -> StepKey:
    wait = Gap(
        "green wait",
        "cure",
        StepKey(f"mix-back-{draft.order.batches}"),
        draft.threshold("green trim opens"),
        draft.threshold("green trim closes"),
        from_start=True,
    )
    words = "trim green: flange, threads, arris"
    return draft.add("green-trim", "cure", words, after=(cover,), gaps=(wait,))


def demould(draft: ProcessDraft) -> None:
    """Adds the work from the back ground in the form to the map of defects."""
    shape = draft.job.shape
    tender = isinstance(shape, Piece) and (shape.legs or shape.basins)
    name = "basin or leg demould" if tender else "demould"
    draft.add(
        "back-grind",
        "grind",
        "grind the back level in the form",
        equipment=("grinder",),
        after=(StepKey("cover"), StepKey("blankets")),
        gaps=_since_screed(draft, "cure", name, "cure"),
    )
    draft.add(
        "demould",
        "grind",
        "demould, flip, set on bearers",
        crew=draft.lifters,
    )
    draft.add("ease-edges", "grind", "clean fillets, ease edges")
    draft.add("defect-map", "grind", "map defects, photo, before any slurry")


def finish(draft: ProcessDraft) -> None:
    """Adds the finish of the job: sanded, washed or honed, then slurried."""
    kind = draft.job.finish.kind
    if kind == "light":
        gaps = _since_screed(draft, "hardening", "hone", "cure")
        draft.add("hand-sand", "sand", "light wet hand sand", gaps=gaps)
    elif kind == "acid":
        gaps = _since_screed(draft, "acid age", "acid wash", "cure")
        words = "acid wash, rinse, neutralise, rinse"
        draft.add("acid-wash", "sand", words, gaps=gaps)
    _hone(draft)
    _slurry(draft)
    draft.add("wash-down", "sand", "wash, squeegee, slow fans")


def _hone(draft: ProcessDraft) -> None:
    grits = draft.job.finish.grits
    gaps = _since_screed(draft, "hardening", "hone", "cure")
    for grit in range(1, grits + 1):
        draft.add(
            f"hone-{grit}",
            "grind",
            f"hone wet, grit {grit} of {grits}",
            rate="hone",
            equipment=("polisher",),
            gaps=gaps if grit == 1 else (),
        )


def _slurry(draft: ProcessDraft) -> None:
    coats = draft.job.finish.slurry
    gaps = _since_screed(draft, "slurry age", "slurry", "cure")
    for coat in range(1, coats + 1):
        slurry = draft.add(
            f"slurry-{coat}",
            "slurry",
            f"slurry coat {coat} of {coats}",
            rate="slurry",
            gaps=gaps if coat == 1 else (),
        )
        off = draft.threshold("slurry sand-off")
        draft.add(
            f"sand-{coat}",
            "sand",
            "sand the slurry off, colour level",
            rate="sand",
            gaps=(Gap(f"slurry set {coat}", "slurry", slurry, off),),
        )


def seal(draft: ProcessDraft) -> None:
    """Adds the sealer and what follows it, to the piece set in its place."""
    film = draft.job.finish.sealer not in PENETRATING_FAMILIES
    draft.add(
        "dryness-check",
        "seal",
        "dryness and room check before coat 1",
        gaps=(Gap("drying", "seal", StepKey("wash-down"), _dry(draft)),),
    )
    age = _since_screed(draft, "film age", "film age", "seal")
    draft.add("mask", "seal", "mask and tack", gaps=age if film else ())
    _coats(draft)
    wrap = Gap("film hardening", "seal", draft.last, draft.threshold("film wrap"))
    draft.add("check-over", "seal", "check over, photos, care sheet")
    draft.add("wrap", "seal", "wrap, on edge", gaps=(wrap,) if film else ())
    _ship(draft)


def _coats(draft: ProcessDraft) -> None:
    coats = draft.job.finish.coats
    family = draft.job.finish.sealer
    opens, closes = RECOAT[family]
    penetrating = family in PENETRATING_FAMILIES
    standing = ESTIMATE if penetrating else PRACTICE
    life = SEALER_POT_LIFE.get(family)
    for coat in range(1, coats + 1):
        gaps: list[Gap] = []
        recoat = Gap(
            f"recoat wait {coat}",
            "seal",
            StepKey(f"coat-{coat - 1}"),
            draft.learned(
                Threshold("recoat opens", opens, "coating", "shop", PRACTICE), family
            ),
            draft.learned(
                Threshold("recoat closes", closes, "coating", "shop", standing), family
            ),
        )
        if coat > 1:
            gaps.append(recoat)
        if draft.job.finish.two_part and life is not None:
            # Mixed as the coat begins, so the coat is counted from its own start.
            key = StepKey(f"coat-{coat}")
            pot = draft.learned(
                Threshold("sealer pot life", life, "coating", "shop", PRACTICE), family
            )
            gaps.append(Gap("", "seal", key, closes=pot, from_start=True))
        draft.add(
            f"coat-{coat}",
            "seal",
            f"sealer coat {coat} of {coats}",
            rate="coat",
            gaps=tuple(gaps),
        )


def _ship(draft: ProcessDraft) -> None:
    age = _since_screed(draft, "ship age", "ship", "seal")
    if draft.wants("crate"):
        draft.add("crate", "seal", "crate on edge, cut-outs braced", gaps=age)
        age = ()
    if draft.wants("install"):
        crew = max(2, draft.lifters) if draft.hands > 1 else 1
        words = "deliver, dry fit, set, seam"
        draft.add("install", "seal", words, crew=crew, gaps=age, pausable=True)


def _since_screed(
    draft: ProcessDraft, name: str, threshold: str, phase: Phase
) -> tuple[Gap, ...]:
    return (Gap(name, phase, _SCREED, draft.threshold(threshold)),)


def _dry(draft: ProcessDraft) -> Threshold:
    """Dry enough to seal, for the thickness of the concrete that has to dry."""
    threshold = draft.threshold("dry to seal")
    shape = draft.job.shape
    shell = shape.thickness
    if isinstance(shape, Piece) and shape.foam:
        shell = (shell - shape.foam.thickness) / 2
    factor = drying_thickness_factor(shell * 1000)
    return threshold.scaled(factor)
