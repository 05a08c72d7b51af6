"""Every caution in short words, with where it is from; :mod:`fecallab.domain.safety` groups them by act."""

from __future__ import annotations

from dataclasses import dataclass

_DOSES = ("dose by mouth", "tube", "injection", "topical")


@dataclass(frozen=True)
class Caution:
    """One caution: a word code, the acts it belongs to, short words, and where it is from."""

    code: str
    acts: tuple[str, ...]
    text: str
    source: str
    source_kind: str


CAUTIONS = (
    Caution(
        "five-rights",
        _DOSES,
        "Right animal, drug, strength, route, time: read the label aloud; a second person repeats the "
        "volume.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "strength-on-the-bottle",
        _DOSES,
        "Read mg per ml on the bottle in your hand: the same drug is sold in several strengths.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "aspiration",
        ("dose by mouth", "tube"),
        "The airway opens in the floor of the mouth, behind or under the tongue. See it, pass beside it, "
        "head raised, slowly; stop at coughing, bubbles or fluid at the nostrils.",
        "From memory; believed BSAVA and Mader texts",
        "memory",
    ),
    Caution(
        "tube-in-windpipe",
        ("tube",),
        "A tube in the windpipe kills within minutes. Never tube an animal that is cold, limp, gasping or"
        " bringing food up; never push against resistance.",
        "Keeper's page on medicating pythons (deaths in snakes)",
        "read",
    ),
    Caution(
        "air-out-first",
        ("tube",),
        "Drive the air out before the tube is on: draw more than needed, push the surplus back, then attach. "
        "Drawing through the tube leaves bubbles and a false dose.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "backing-up",
        ("tube", "feeding"),
        "Push slowly. Liquid that wells up in the mouth, bubbles or coughing: stop, head down, tube out, no more "
        "today, call the vet. Inhaled liquid means pneumonia.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "neck-stretched",
        ("tube",),
        "Measure and mark the tube on the animal beforehand. A tortoise's pulled-in neck folds and stops a tube too "
        "early; a little sterile lubricant on the rounded end.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "not-in-food",
        ("dose by mouth", "feeding"),
        "A bitter liquid mixed into food is not a reliable dose.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "mixed-in-a-vial",
        ("dilution",),
        "Only with the liquid that vet or pharmacist named; in a clean vial, never in the syringe that doses; "
        "label, shake, draw at once, discard after this session.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "fluids-under-the-skin",
        ("fluids",),
        "Fluid warmed; skin cleaned with alcohol; small portions in more than one place; only if the vet taught you. "
        "By mouth and by soak first where the gut works.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "sip-is-no-rehydration",
        ("fluids",),
        "A sip from a bowl is no rehydration; fluids come with every drug that is hard on kidneys.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "warm-water-food",
        ("feeding", "fluids"),
        "First warm, then water, then food: a cold or dry animal is not fed.",
        "LafeberVet, Nutritional support in reptiles",
        "read",
    ),
    Caution(
        "warm-first",
        _DOSES,
        "Inside its own warm range before, during and after the course: a cold reptile neither takes up "
        "nor clears a drug.",
        "Gibbons, Therapeutics, in Mader's, chapter 7",
        "read",
    ),
    Caution(
        "water-first",
        _DOSES,
        "Water before drugs that load the kidneys. Sunken eyes, skin folds, thick saliva, gritty or no "
        "urates: not today.",
        "From memory; believed Mader's and Carpenter's texts",
        "memory",
    ),
    Caution(
        "watch-two-days",
        _DOSES,
        "For 48 hours watch for wobbling, a tilted head, circling, no righting, tremor, limpness. If "
        "seen: no further dose, warm quiet box, call the vet with drug, dose, time and weight.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "white-cells",
        ("dose by mouth", "tube"),
        "After fenbendazole and its family dullness, poor appetite or new infections one to three weeks "
        "later can mean low white cells: call the vet.",
        "Neiffer et al. 2005 for the blood change; the timing from memory",
        "memory",
    ),
    Caution(
        "missed-or-vomited",
        _DOSES,
        "Missed: give it only if more than half of the interval is left, never double, tell the vet. "
        "Brought up again: do not repeat, call.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "dying-worms",
        _DOSES,
        "Many worms dying at once can block or inflame the gut: with a heavy burden ask the vet first.",
        "From memory",
        "memory",
    ),
    Caution(
        "skin-treatment",
        ("topical",),
        "Gloves; whole dry skin only; no soaking until the time the vet gives; not where its mouth can "
        "reach.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "injection-taught",
        ("injection",),
        "Only if the vet taught you: new sterile needle each time, front half of the body unless told "
        "otherwise, another place each time, no wasted muscle; never into body cavity, vein or bone at "
        "home.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "salmonella",
        ("microscope bench", *_DOSES),
        "Treat every reptile as a carrier of Salmonella: soap and running water after animal, stool, "
        "water, tubes and bench; gel is a stopgap.",
        "US CDC leaflets on reptiles; SVA page on reptiles",
        "read",
    ),
    Caution(
        "people-at-risk",
        ("microscope bench", *_DOSES),
        "Children under 5, people over 65, pregnant or with weak defences: no animals, stool or dosing gear.",
        "US CDC leaflets; AAP Pediatrics, table 1; SVA page",
        "read",
    ),
    Caution(
        "not-in-the-kitchen",
        ("microscope bench", "disposal"),
        "No samples or gear in kitchens or kitchen sinks; no eating or drinking at the bench; a mat of "
        "its own, disinfected after.",
        "US CDC leaflets on reptiles",
        "read",
    ),
    Caution(
        "bleach-is-not-enough",
        ("microscope bench", "disposal"),
        "Cryptosporidium oocysts stand bleach: heat, or ammonia by the vet's word.",
        "From memory; ammonia also in a keeper's report",
        "memory",
    ),
    Caution(
        "gloves",
        _DOSES,
        "Gloves for benzimidazoles, nitroimidazoles, ivermectin and spot-ons; pregnant people keep away "
        "from benzimidazoles and nitroimidazoles.",
        "From memory",
        "memory",
    ),
    Caution(
        "sharps",
        ("injection", "disposal"),
        "No recapping: straight into a rigid sharps box, closed at three quarters, returned to pharmacy, "
        "vet or the municipal scheme.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "leftovers",
        ("disposal",),
        "Leftover and expired medicine back to vet, pharmacy or take-back scheme; never into drain, "
        "toilet, garden or pond. Thinned drug: the same session only.",
        "common practice, no source; harm to water life from memory",
        "common practice",
    ),
    Caution(
        "storage",
        ("disposal", *_DOSES),
        "Original bottle, cool and dark as the label says, date of opening on it; diluted ivermectin does"
        " not stand light.",
        "Klingenberg R, Understanding Reptile Parasites (excerpt), for ivermectin",
        "read",
    ),
    Caution(
        "treated-prey",
        _DOSES,
        "Prey animals treated against parasites are withheld: snakes died after mice with ivermectin.",
        "Hahn A et al. 2014, Vet Rec Case Rep 2:e000053",
        "read",
    ),
    Caution(
        "law-off-label",
        ("law",),
        "Nearly every use in reptiles is off-label. Example, US 21 CFR 530: lawful only on the order of a"
        " licensed veterinarian who knows keeper and animal. Your country's rules and your vet decide.",
        "US 21 CFR 530 (copy of the text); UK: vetexotics.co.uk",
        "read",
    ),
    Caution(
        "law-food-animals",
        ("law",),
        "Animals meant to be eaten are not dosed by this tool: withdrawal times are the vet's.",
        "US 21 CFR 530 (copy of the text)",
        "read",
    ),
    Caution(
        "law-post",
        ("law",),
        "Do not send drugs across borders by post.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "end-is-an-exam",
        ("closing a case",),
        "The last dose ends nothing: only the repeat exams of the follow-up do, and they speak of stools "
        "alone.",
        "common practice, no source",
        "common practice",
    ),
    Caution(
        "no-diagnosis",
        ("closing a case", "microscope bench"),
        "A screening aid and a record, no diagnosis: none found is not none there. The vet decides.",
        "common practice, no source",
        "common practice",
    ),
)
"""Every caution, in the order in which it is shown."""
