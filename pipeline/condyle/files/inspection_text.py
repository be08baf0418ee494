"""The inspection of a file on one screen of plain text."""

from collections.abc import Iterator

from condyle.files.inspection import Inspection, LabelSeen, safe
from condyle.files.recording import Recording
from condyle.findings import Finding

_MOST_ROWS = 15
_MOST_FINDINGS = 10


def as_text(inspection: Inspection, width: int = 100) -> str:
    """Lines of at most ``width`` characters, but for the sentences of what is wrong."""
    return "\n".join(safe(line) if line else "" for line in _lines(inspection, width))


def _lines(inspection: Inspection, width: int) -> Iterator[str]:
    r = inspection.recording
    yield str(inspection.path)
    if r is None:
        yield f"  REFUSED  {str(inspection.reason).removeprefix(f'{inspection.path}: ')}"
        if inspection.claims:
            c = inspection.claims
            yield f"  header   says {c['points']:.0f} points, {c['frames']:.0f} frames, {c['rate_hz']:.6g} Hz"
        return
    markers = [row for row in inspection.labels if row.kind == "marker"]
    named = sum(row.points for row in markers)
    others = len(r.labels) - named
    yield f"  points   {len(r.labels)}: {named} with a label ({len(markers)} different), {others} other; {r.storage}"
    yield (
        f"  frames   {r.n_frames} from number {r.first_frame}, {r.duration_s:.3f} s at {r.rate_hz:.9g} Hz; "
        f"{_percent(100.0 * r.counts.missing / max(r.counts.total, 1))} of the samples missing"
    )
    said = "not said" if r.said_unit is None else f"said {r.said_unit!r}"
    yield f"  unit     {said}, taken as {r.unit}; x, y, z in mm: {_ranges(inspection)}"
    yield f"  axes     {_axes(inspection)}"
    yield f"  events   {_events(r, width)}"
    yield f"  analogue {_analogue(r)}"
    yield from ("", "  label, seen in % of the frames, longest gap in s (xN: N points carry the name)")
    yield from _label_rows(inspection.labels, width)
    notes = [f for f in inspection.findings if f.verdict == "pass"]
    wrong = [f for f in inspection.findings if f.verdict != "pass"]
    yield ""
    for finding in notes:
        yield f"  note     {_sentence(finding)}"
    if not wrong:
        yield "  nothing is wrong with this file as far as one file can tell"
    lines = list(_wrong(wrong))
    yield from lines[:_MOST_FINDINGS]
    if len(lines) > _MOST_FINDINGS:
        yield f"  ...      and {len(lines) - _MOST_FINDINGS} more (--json lists all)"


def _ranges(inspection: Inspection) -> str:
    return ", ".join(f"{low:.0f} to {high:.0f}" for low, high in (inspection.ranges_mm or {}).values())


def _axes(inspection: Inspection) -> str:
    o = inspection.orientation
    if o is None:
        return "unknown"
    hand = {None: "handedness cannot be told", True: "right-handed", False: "LEFT-HANDED"}[o.right_handed]
    return f"{o.up} is up ({'clear' if o.sure else 'not clear'}: {o.why}); {hand}"


def _events(r: Recording, width: int) -> str:
    if not r.events:
        return "none"
    named = [
        f"{e.time_s:.3f} s {' '.join(filter(None, (e.context, e.label)))}{'' if e.inside else ' (outside)'}"
        for e in r.events
    ]
    text = f"{len(named)}: "
    for k, one in enumerate(named):
        if len(text) + len(one) > width - 20:
            return text + f"... and {len(named) - k} more"
        text += one + ("; " if k < len(named) - 1 else "")
    return text


def _analogue(r: Recording) -> str:
    channels = f"{len(r.analogue_labels)} channels at {r.analogue_rate_hz:.6g} Hz" if r.analogue_rate_hz else "none"
    plates = f"{r.force_plates} force plates declared" if r.force_plates else "no force plates"
    return f"{channels}; {plates}" + (f", {len(r.forces)} extracted" if r.force_plates and r.forces is not None else "")


def _label_rows(labels: tuple[LabelSeen, ...], width: int) -> Iterator[str]:
    """A grid down the columns; where there are too many labels, the least seen ones first."""
    shown = [row for row in labels if row.kind in ("marker", "unlabelled")]
    longest = max((len(row.label) + (3 if row.points > 1 else 0) for row in shown), default=1)
    longest = min(longest, 30)
    columns = max(1, (width - 2) // (longest + 16))
    if len(shown) > columns * _MOST_ROWS:
        shown = sorted(shown, key=lambda row: row.visible_percent)[: columns * _MOST_ROWS]
        yield f"  (the {len(shown)} least seen of {len(labels)}; --json lists all)"
    rows = -(-len(shown) // columns)
    for k in range(rows):
        yield "  " + "".join(_cell(row, longest) for row in shown[k::rows]).rstrip()
    kinds: dict[str, int] = {}
    for row in labels:
        if row.kind not in ("marker", "unlabelled"):
            kinds[row.kind] = kinds.get(row.kind, 0) + row.points
    if kinds:
        yield "  no markers: " + ", ".join(f"{count} {kind}" for kind, count in kinds.items())


def _cell(row: LabelSeen, longest: int) -> str:
    name = row.label[: longest - (3 if row.points > 1 else 0)] + (f" x{row.points}" if row.points > 1 else "")
    return f"{name:<{longest}} {_number(row.visible_percent):>5} {row.longest_gap_s:6.2f}   "


def _number(percent: float) -> str:
    return "100" if percent == 100.0 else f"{min(percent, 99.9):.1f}"


def _percent(percent: float) -> str:
    return "none" if percent == 0 else f"{percent:.2g} %"


def _wrong(findings: list[Finding]) -> Iterator[str]:
    """One line a finding; findings of one kind about several markers become one line about the worst."""
    groups: dict[str, list[Finding]] = {}
    for finding in findings:
        groups.setdefault(finding.check, []).append(finding)
    for verdict in ("reject", "review"):
        for check, group in groups.items():
            if group[0].verdict != verdict:
                continue
            if len(group) > 2 and group[0].subject != "file":
                top = max(group, key=lambda f: f.value or 0.0)
                yield f"  {verdict:<8} {check}: {len(group)} markers, worst {_sentence(top).removeprefix(f'{check}: ')}"
            else:
                yield from (f"  {verdict:<8} {_sentence(f)}" for f in group)


def _sentence(f: Finding) -> str:
    number = "" if f.value is None else f" {f.value:.6g}{' ' + f.unit if f.unit else ''}"
    subject = "" if f.subject == "file" else f" {f.subject}"
    return f"{f.check}:{subject}{number}{',' if number or subject else ''} {f.advice}"
