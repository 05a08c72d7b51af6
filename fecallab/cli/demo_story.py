"""The story of the demo: an invented rescue, told in the commands that a keeper would type.

``{12 08:30}`` is the twelfth day at half past eight, ``{12}`` the day alone; ``[refused]`` at the end of a line
means that the command must be refused.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

KEEPER = "Mara Quell"
VET = "Dr Ilse Varnholt"
RESCUE = "Tarnwick Reptile Rescue"
LAST_DAY = 165
"""The story's last day is the day before today."""

PICTURES = (
    "dragon_before_1.jpg",
    "dragon_before_2.jpg",
    "dragon_before_3.jpg",
    "dragon_before_4.jpg",
    "dragon_after_1.jpg",
    "dragon_after_2.jpg",
    "dragon_after_3.jpg",
    "dragon_late_1.jpg",
    "dragon_isospora.jpg",
    "tortoise_wet_mount_1.jpg",
)

_FLOAT = "--method simple_flotation --gravity 1.20 --gravity-checked --standing-minutes 15"
_WET = "--method direct_saline_smear --room-c 24"
_NONE_AT_10X = "--objective 10 --share 1 --seen oxyurid=0"

STORY = f"""
# The animals come in
animal add Saffron --species "Pogona vitticeps" --adult --enclosure "vivarium 4" --arrived {{0}}
animal add Barley --species "Testudo hermanni" --adult --enclosure "table 2" --arrived {{0}}
animal weigh Saffron 318 --at "{{0 08:00}}"
animal weigh Barley 642 --at "{{0 08:10}}"

# Saffron's first stool: a float with pictures, pinworm eggs in three of four fields
sample add Saffron --passed-from "{{0 06:30}}" --passed-to "{{0 08:00}}" --form soft --kept room --mass-g 1.4
exam add S1 {_FLOAT} --read-at "{{0 08:50}}" --objective 10 --field-number 20 --um-per-px 0.65 --picture slides/dragon_before_1.jpg --picture slides/dragon_before_2.jpg --picture slides/dragon_before_3.jpg --picture slides/dragon_before_4.jpg --marks slides/truth.csv --question "Are these pinworm eggs, and should she be treated?"

# The vet's plan, two doses, and the care that goes with them
plan add C1 --vet "{VET}" --written {{2}} --goal clear --drug fenbendazole --dose-mg-per-kg 50 --concentration-mg-per-ml 100 --route "by mouth" --interval-days 14 --doses 2 --fluids "6 ml by mouth on dose days" --feeding "as usual" --warm-end-c 36
animal weigh Saffron 317 --at "{{3 08:00}}"
dose give C1 --at "{{3 08:20}}"
care log Saffron fluids 6 --at "{{3 08:30}}"
care log Saffron "warm end" 38 --at "{{3 13:00}}"
care log Saffron "lowest at night" 27 --at "{{4 07:00}}"
animal weigh Saffron 322 --at "{{17 08:00}}"
dose give C1 --at "{{17 08:15}}"
care log Saffron fluids 6 --at "{{17 08:30}}"
care log Saffron feeding 12 --at "{{17 18:00}}" --remark "dandelion, six crickets"
care log Saffron cleaning --at "{{17 10:00}}" --remark "substrate out, hot water, dried for a day"
dose work-out C1 --at "{{31 08:00}}" [refused]

# The course is over and nothing is proven: a quick smear could not have shown the eggs
animal weigh Saffron 329 --at "{{49 08:00}}"
sample add Saffron --passed-from "{{49 06:30}}" --passed-to "{{49 08:00}}" --form soft --kept room --mass-g 1.2
exam add S2 {_WET} --read-at "{{49 08:30}}" --objective 40 --share 0.05 --seen oxyurid=0
case close C1 --on {{49}} [refused]

# Two floats that could have shown them: none found
sample add Saffron --passed-from "{{51 06:30}}" --passed-to "{{51 08:00}}" --form soft --kept room --mass-g 1.3
exam add S3 {_FLOAT} --read-at "{{51 08:50}}" --objective 10 --field-number 20 --um-per-px 0.65 --picture slides/dragon_after_1.jpg --picture slides/dragon_after_2.jpg --marks slides/truth.csv
exam read E3-1 {_NONE_AT_10X}
sample add Saffron --passed-from "{{66 06:30}}" --passed-to "{{66 08:00}}" --form soft --kept room --mass-g 1.5
exam add S4 {_FLOAT} --read-at "{{66 09:00}}" --objective 10 --field-number 20 --um-per-px 0.65 --picture slides/dragon_after_3.jpg --marks slides/truth.csv
exam read E4-1 {_NONE_AT_10X}

# The third is positive again: back to the vet, no dose before a new plan
animal weigh Saffron 334 --at "{{80 08:00}}"
sample add Saffron --passed-from "{{80 06:30}}" --passed-to "{{80 08:00}}" --form soft --kept room --mass-g 1.3
exam add S5 {_FLOAT} --read-at "{{80 09:00}}" --objective 10 --field-number 20 --um-per-px 0.65 --picture slides/dragon_late_1.jpg --marks slides/truth.csv
dose work-out C1 --at "{{80 10:00}}" [refused]
plan add C1 --vet "{VET}" --written {{82}} --goal clear --drug fenbendazole --dose-mg-per-kg 50 --concentration-mg-per-ml 100 --route "by mouth" --interval-days 14 --doses 2 --remark "clean the vivarium on both dose days"
animal weigh Saffron 335 --at "{{83 08:00}}"
dose give C1 --at "{{83 08:15}}"
care log Saffron cleaning --at "{{83 10:00}}" --remark "substrate out, hot water, dried for a day"
animal weigh Saffron 338 --at "{{97 08:00}}"
dose give C1 --at "{{97 08:15}}"
care log Saffron cleaning --at "{{97 10:00}}" --remark "substrate out, hot water, dried for a day"

# Three adequate negatives from separate stools after the wait: a person closes the case
sample add Saffron --passed-from "{{128 06:30}}" --passed-to "{{128 08:00}}" --form soft --kept room --mass-g 1.2
exam add S6 {_FLOAT} --read-at "{{128 09:00}}" {_NONE_AT_10X}
sample add Saffron --passed-from "{{143 06:30}}" --passed-to "{{143 08:00}}" --form soft --kept room --mass-g 1.4
exam add S7 {_FLOAT} --read-at "{{143 09:00}}" {_NONE_AT_10X}
sample add Saffron --passed-from "{{158 06:30}}" --passed-to "{{158 08:00}}" --form soft --kept room --mass-g 1.1
exam add S8 --method mcmaster --gravity 1.20 --gravity-checked --standing-minutes 5 --sample-g 1 --suspension-ml 15 --counted-ml 0.3 --read-at "{{158 09:00}}" --objective 10 --seen oxyurid=0
animal weigh Saffron 345 --at "{{160 08:00}}"
case close C1 --on {{160}}

# Barley the tortoise: flagellates in a fresh wet mount; her ciliates are normal inhabitants
sample add Barley --passed-from "{{128 08:40}}" --passed-to "{{128 08:55}}" --form soft --kept room --mass-g 3.1
exam add S9 {_WET} --read-at "{{128 09:15}}" --objective 40 --field-number 20 --um-per-px 0.165 --picture slides/tortoise_wet_mount_1.jpg --marks slides/truth.csv
exam read E9-1 --objective 40 --share 0.35 --seen tritrichomonas_troph=38 --seen nyctotherus_troph=2
plan add C2 --vet "{VET}" --written {{130}} --goal clear --drug metronidazole --component metronidazole --dose-mg-per-kg 25 --concentration-mg-per-ml 50 --route "by mouth" --interval-days 2 --doses 3 --fluids "10 ml by mouth a day" --warm-end-c 30
animal weigh Barley 640 --at "{{131 08:00}}"
dose give C2 --at "{{131 08:20}}"
care log Barley fluids 10 --at "{{131 08:30}}"
animal weigh Barley 643 --at "{{133 08:00}}"
dose give C2 --at "{{133 08:20}}"
care log Barley fluids 10 --at "{{133 08:30}}"
animal weigh Barley 647 --at "{{135 08:00}}"
dose give C2 --at "{{135 08:20}}"
care log Barley "warm end" 31 --at "{{135 13:00}}"

# Read three hours after passage nothing moves, and that says nothing; fresh ones count
sample add Barley --passed-from "{{144 06:00}}" --passed-to "{{144 07:00}}" --form soft --kept room --mass-g 2.8
exam add S10 {_WET} --read-at "{{144 10:00}}" --objective 40 --share 0.4 --seen flagellate=0
sample add Barley --passed-from "{{146 08:30}}" --passed-to "{{146 08:50}}" --form soft --kept room --mass-g 2.9
exam add S11 {_WET} --read-at "{{146 09:10}}" --objective 40 --share 0.4 --seen flagellate=0
sample add Barley --passed-from "{{155 08:10}}" --passed-to "{{155 08:30}}" --form soft --kept room --mass-g 3.3
exam add S12 {_WET} --read-at "{{155 08:45}}" --objective 40 --share 0.36 --seen flagellate=0
animal weigh Barley 661 --at "{{160 08:00}}"

# New arrivals: a tub of young dragons, oocysts, and the vet has not answered yet
animal add "Tub 7" --kind tub --number 6 --species "Pogona vitticeps" --young --enclosure "tub 7" --arrived {{161}}
sample add "Tub 7" --passed-from "{{163 06:00}}" --passed-to "{{163 08:00}}" --form soft --kept room --mass-g 1.0
exam add S13 {_FLOAT} --read-at "{{163 09:00}}" --objective 40 --field-number 20 --um-per-px 0.165 --picture slides/dragon_isospora.jpg --marks slides/truth.csv --question "Six young dragons, two thin: what should be done?"
exam read E13-1 --objective 10 --share 1 --seen isospora_amphiboluri_unsporulated=64
exam elsewhere "Tub 7" --target cryptosporidium --result negative --from "a laboratory" --method PCR --collected {{163}} --reported {{164}} --adequate

# Tub 8 came with it and shares its tongs: both wait as one, until Tub 7 is moved out
animal add "Tub 8" --kind tub --number 5 --species "Pogona vitticeps" --young --enclosure "tub 8" --arrived {{161}}
enclosure share "tub 7" tools "green tongs" --from {{161}}
enclosure share "tub 8" tools "green tongs" --from {{161}}
arrivals add "Tub 7" "Tub 8" --name "young dragons" --arrived {{161}} --origin "captive bred" --source "a keeper who gives up"
arrivals release I1 --on {{164}} [refused]
contacts "Tub 7" --target coccidian --on {{164}}
animal move "Tub 7" "sick bay" --new --room "quiet room" --on {{165}}
arrivals show I1 --on {{165}}
"""


@dataclass(frozen=True)
class Step:
    """One command of the story; ``chapter`` is what is told before it."""

    chapter: str
    words: tuple[str, ...]
    refused: bool


def steps(today: date) -> Iterator[Step]:
    """Return the commands with days filled in; the last day of the story is yesterday."""
    start = today - timedelta(days=LAST_DAY)

    def moment(found: re.Match[str]) -> str:
        day = start + timedelta(days=int(found.group(1)) - 1)
        return f"{day}{found.group(2) or ''}"

    chapter = ""
    for line in STORY.strip().splitlines():
        if line.startswith("#"):
            chapter = line[1:].strip()
        elif line.strip():
            told = re.sub(r"\{(\d+)( \d\d:\d\d)?\}", moment, line)
            refused = told.endswith("[refused]")
            yield Step(chapter, tuple(shlex.split(told.removesuffix("[refused]"))), refused)
