"""Plans of sessions as tests write them: files of TOML with few or many fields."""

from collections.abc import Sequence

#: The demo's deep-sky field, which its mirror crosses: name, ICRS degrees.
FIELD = ("M 81 field", 148.92, 69.35)


def session_plan(
    subs: int,
    *,
    site: str = "quillmoor",
    start: str = "2029-03-17T20:00:00Z",
    exposure_s: float = 180.0,
    targets: Sequence[tuple[str, float, float]] = (FIELD,),
    more: str = "",
) -> str:
    """So many subs of each target with the rig "field", 6 s apart.

    No site leaves the key out; ``more`` stands at the end of ``[session]``.
    """
    rows = ["[session]", f'site = "{site}"' if site else "", 'rig = "field"']
    rows += [f"start = {start}", f"subs = {subs}", f"exposure_s = {exposure_s}"]
    rows += ["gap_s = 6.0", more]
    for name, ra_deg, dec_deg in targets:
        head = "[target]" if len(targets) == 1 else "[[target]]"
        rows += [head, f'name = "{name}"', f"ra_deg = {ra_deg}", f"dec_deg = {dec_deg}"]
    return "\n".join(row for row in rows if row) + "\n"
