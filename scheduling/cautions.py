"""The usual caution for each step that can hurt someone.

These are reminders of common practice. They replace neither the label, the data
sheet, local rule and code, nor licensed practice.
"""

from __future__ import annotations

DUST = (
    "Silica and cement dust: extraction at the tub, respirator, no dry sweeping. "
    "Local exposure rules decide."
)
GRINDING = (
    "Silica dust: shroud and extractor or continuous water, respirator and hearing "
    "as local rules ask."
)
PASTE = (
    "Wet cement is caustic: cuffed gloves, eye protection, wash off at once; the pain "
    "comes late."
)
FIBRE = "Glass fibre and caustic paste: gloves, eyes, cover skin; bag the offcuts."
AIR = "Release the pressure before clearing a blocked gun or hopper."
LEGS = (
    "Tall forms: brace and tie them before filling; wet mix pushes with its full "
    "height. Ask someone licensed when in doubt."
)
LIFT = "Plan the lift before the screws come out: mass, hands, route, straps or cart."
WET_POWER = "Water and electricity: residual-current protection, drip loop, hearing."
ACID = (
    "Acid into water, never water into acid; goggles, gloves, air; never near bleach. "
    "Not alone."
)
COATING = "Solvent vapour: air, no flame, no grinder. Follow the label and data sheet."
ISOCYANATE = (
    "Two-part urethanes and polyaspartics carry isocyanates: they sensitise for life. "
    "Label, local rule and proper air supply first; never alone."
)
SAW = "Saw: guards on, eyes and ears, extraction; cutting dust can burn."
HEATER = "Heat in a tent: carbon monoxide and fire; thermostat, air, nothing touching."
SOLVENT = "Adhesive or solvent vapour is the fire risk: air, no flame."

CAUTIONS: dict[str, str] = {
    "cut-strips": SAW,
    "assemble": LEGS,
    "fillets": SOLVENT,
    "weigh-dry": DUST,
    "sand-moisture": "Hot pan: gloves, air.",
    "mix-face": DUST + " " + PASTE,
    "spray": PASTE + " " + AIR,
    "mix-back": DUST + " " + FIBRE,
    "lift-1": FIBRE,
    "lift-2": FIBRE,
    "roll-1": PASTE,
    "roll-2": PASTE,
    "screed": PASTE,
    "wash-tools": PASTE + " Wash water is caustic: settle it, local sewer rule.",
    "blankets": HEATER,
    "back-grind": GRINDING,
    "demould": LIFT,
    "ease-edges": GRINDING,
    "hand-sand": WET_POWER,
    "acid-wash": ACID,
    "hone": WET_POWER + " " + GRINDING,
    "slurry": PASTE,
    "sand": GRINDING,
    "coat": COATING,
    "crate": LIFT,
    "install": LIFT,
}
"""Cautions by step, without the number of a batch, pass or coat."""

LIFTED = ("demould", "crate", "install")
"""Steps in which the piece is lifted: its mass and the hands it wants are said too."""

ISOCYANATE_SEALERS = ("solvent urethane", "polyaspartic", "waterborne urethane")
"""Families whose two-part kinds carry isocyanates."""


def caution(step: str, *, sealer: str = "", two_part: bool = False) -> str:
    """Returns the caution of a step, or "" when it needs none."""
    name = step if step in CAUTIONS else step.rstrip("0123456789").rstrip("-")
    if name == "coat" and two_part and sealer in ISOCYANATE_SEALERS:
        return ISOCYANATE
    return CAUTIONS.get(name, "")
