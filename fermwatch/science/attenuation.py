"""Why apparent attenuation may exceed what a yeast is said to reach. Common practice; no number is computed here."""


def causes_above_range(
    *, probe_unchecked: bool, original_doubtful: bool, sugars_declared: bool, diastatic: bool
) -> tuple[str, ...]:
    """All that may be the cause, likeliest first by what is known of the batch.

    probe_unchecked: the gravity is a probe's, and no hydrometer confirms it. original_doubtful: topped up, unmixed or
    from a recipe. sugars_declared: what else went in was said. diastatic: the yeast is known to split dextrins.
    """
    probe = "the probe drifts or foam sits on it (a hydrometer tells)"
    original = "the original gravity was measured before it was topped up or mixed"
    sugars = "sugar or fruit went in that was not noted"
    splits = "diastatic yeast, which goes on for weeks"
    rest = [(probe, not probe_unchecked), (original, not original_doubtful), (sugars, sugars_declared)]
    likely = [cause for cause, unlikely in rest if not unlikely]
    less = [cause for cause, unlikely in rest if unlikely and cause is not probe]
    ordered = [*([splits] if diastatic else []), *likely, *less, *([] if diastatic else [splits]), "an infection"]
    return tuple(ordered)
