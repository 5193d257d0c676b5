"""The cautions that every page of the product carries."""

from __future__ import annotations

NOTHING_FAILS = (
    "This plan takes it that nothing fails. It does not say whether help would come before harm "
    "if something did: plan the way home and the hands at the bay yourself."
)
LISTED_FAILURES_ONLY = (
    "Only the failures listed here are held against help, each alone or with what the same cause "
    "breaks. Others can happen, and help comes only as fast as your drills have shown."
)
ALWAYS = (
    "Training suits can hurt: heat illness, carbon dioxide, falls, cold water, pinched skin, "
    "batteries.",
    "neckring estimates. It does not clear anyone to enter a suit.",
    "A medical professional and the local safety and ethics bodies set and sign the limits. "
    "Local codes stand above this page.",
    "Any symptom stops the run, whatever the numbers say: headache, dizziness, nausea, confusion, "
    "shivering, tingling, chest pain, short breath.",
    "Heart rate, not core temperature, ended most published heavy-suit trials: watch it first.",
    "When the fan stops, carbon dioxide rises within a minute or so: open the helmet first, look "
    "for the fault afterwards.",
)

CAUTIONS = (NOTHING_FAILS, *ALWAYS)
CAUTIONS_WITH_FAILURES = (LISTED_FAILURES_ONLY, *ALWAYS)
