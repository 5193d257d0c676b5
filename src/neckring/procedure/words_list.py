"""The words that the wording rules know: a closed list of verbs, and words that say too little."""

from __future__ import annotations


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


SENSING_VERBS = _words("count feel find hear measure notice read see smell watch")
"""What a sign begins with: nothing is moved by any of them."""

VERBS = SENSING_VERBS | _words("""
    abort adjust align apply ask attach bend bleed blow breathe bring call carry change charge check
    clamp clean clear click climb clip close collect come connect cool cover cross cut decrease
    detach disconnect disengage doff don drain draw drink drop dry empty engage enter extend face
    fasten fill fit fold free freeze get give go grasp grip guide hand hang help hold hook increase
    inflate insert isolate join keep kneel latch lay lead lean leave let lie lift light listen load
    lock look loosen lower mark monitor mount move note notify obtain open pack part pass pinch
    place plug point pour power press pull push put raise reach record reduce release remove repeat
    replace report reset rest return rinse roll rotate route say screw seal seat secure select send
    set shake show shut signal sit slide squeeze stand start stay step stop store stow strap stretch
    support swing switch take tap tell test tie tighten tilt touch turn twist unclamp unclip
    unfasten unfold unhook unlatch unlock unpack unplug unscrew unseal unstrap untie unwind unzip
    vary vent wait walk warm warn wash weigh wind wipe withdraw write zip
    """)
"""With what an instruction begins. Whoever needs another verb adds it here."""

NOUNS_TOO = _words("""
    call carry change charge check clamp clean clear click clip close cool count cover cross cut
    drain draw drink drop dry empty face feel fill find fit fold free freeze grasp grip guide hand
    hang help hold hook join latch lay lead lean leave let lie lift light load lock look lower mark
    measure mount move note open pack part pass pinch place plug point power press pull push put
    reach read record release repeat report reset rest return roll route say screw seal seat secure
    set shake show shut signal slide squeeze stand start stay step stop store strap stretch support
    swing switch take tap test tie tilt touch turn twist vent wait walk warm wash watch wind wipe
    zip
    """)
"""Verbs that may also be nouns or states: an act only when what follows says so."""

ONE_GESTURE = frozenset(
    {
        ("hold", "turn"),
        ("lift", "turn"),
        ("pinch", "pull"),
        ("press", "hold"),
        ("press", "slide"),
        ("press", "turn"),
        ("pull", "turn"),
        ("push", "turn"),
        ("squeeze", "pull"),
    }
)
"""Two verbs of a single movement of the hand: no part of it can be left out."""

DETERMINERS = _words(
    "a all an another any both each every her his it its my one our that the their them these "
    "this those two your"
)

CONDITIONALS = ("if", "when", "unless", "once", "whenever")

SUBORDINATORS = _words("after as because before if that unless until when where which while")
"""Words with which a clause begins that describes and does not instruct."""

MODALS = _words("could may might must ought shall should will would")

BEING = _words("are be been being is was were")

IRREGULAR_PARTICIPLES = _words(
    "bound brought cut done drawn driven fed felt found given held hung kept led left let made put "
    "read seen sent set shown shut taken told undone unwound worn wound"
)

NEGATIONS = _words(
    "avoid cannot except fail fails neither never no nobody none not nothing prevent unless without"
)

UNSAFE_WORDS = ("make sure", "makes sure", "be sure", "see to it")
RESERVED_WORDS = _words("assure ensure ensures verified verifies verify")

VAGUE = (
    "a bit",
    "a few",
    "a little",
    "a while",
    "adequate",
    "adequately",
    "and/or",
    "appropriate",
    "appropriately",
    "approx",
    "approximate",
    "approximately",
    "as appropriate",
    "as necessary",
    "as needed",
    "as required",
    "carefully",
    "correctly",
    "etc",
    "from time to time",
    "if applicable",
    "if necessary",
    "if needed",
    "if possible",
    "if required",
    "periodically",
    "properly",
    "reasonable",
    "reasonably",
    "regularly",
    "several",
    "somewhat",
    "sufficient",
    "sufficiently",
    "suitable",
    "suitably",
    "when necessary",
    "when required",
)
"""What leaves the amount, the time or the manner to whoever reads."""

NUMBER_WORDS = _words("half one two three four five six seven eight nine ten twenty")

EMPTY_ANSWERS = _words(
    "affirm affirmative check checked complete completed confirm confirmed copied copy correct "
    "done fine good ok okay right roger set sure understood yes"
)
"""Answers that can be given without having looked."""

FUNCTION_WORDS = _words(
    "a after all am an and are as at be been before both but by do does for from had has have he "
    "her his i if in into is it its me my now of or our she so than that the their them then there "
    "these they this those to until was we were when while who with you your"
)
"""Words that carry no content. `on`, `off`, `up` and `down` name states and are not here."""

BEFORE_A_BARE_NUMBER = _words(
    "above at below between equals exactly from is least most over reach reaches read reads shows "
    "than to under until"
)
"""After one of these a number is a value and needs its unit; after a noun it is a label."""

SAME_OBJECT = (
    frozenset({"backpack", "pack", "rucksack"}),
    frozenset({"battery", "accumulator"}),
    frozenset({"blower", "fan", "ventilator"}),
    frozenset({"boot", "shoe"}),
    frozenset({"buckle", "clasp"}),
    frozenset({"chair", "stool"}),
    frozenset({"coupling", "connector"}),
    frozenset({"faceplate", "visor"}),
    frozenset({"glove", "mitt"}),
    frozenset({"headset", "headphones"}),
    frozenset({"helmet", "hood"}),
    frozenset({"hose", "pipe", "tube"}),
    frozenset({"intercom", "radio"}),
    frozenset({"stopcock", "valve"}),
    frozenset({"tether", "umbilical"}),
)
"""Words, in the singular, that people use for one object. Ours, and short: others are not seen."""

EMERGENCY_WORDS = _words("emergency emergencies evacuation rescue")
