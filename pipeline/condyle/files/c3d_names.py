"""What do the parameters of a C3D file say beside the coordinates: labels, kinds, events, plates, participants?"""

from condyle.files.c3d_events import read_events
from condyle.files.c3d_layout import Layout
from condyle.files.c3d_structure import Structure
from condyle.files.label_text import clean, is_unlabelled, labels_damaged, point_labels, prefixes
from condyle.files.point_kinds import point_kinds
from condyle.files.privacy import looks_personal, pseudonym_finding
from condyle.findings import Finding

_MOST_PLATES = 256


class Names:
    """Read in one go, while the reading process is busy with the coordinates."""

    def __init__(self, structure: Structure, layout: Layout) -> None:
        self.labels, odd = point_labels(structure, layout.points)
        self.kinds = point_kinds(structure, self.labels)
        self.prefixes = prefixes(self.labels)
        self.events, self.findings = read_events(structure, layout)
        self.findings = [Finding("labels", "file", None, None, "", "review", text) for text in odd] + self.findings
        self.analogue = tuple(clean(raw)[0] for raw in structure.texts("ANALOG", "LABELS")[: layout.channels])
        units = structure.texts("POINT", "UNITS")
        self.unit = clean(units[0])[0] if units else None
        plates = (*structure.numbers("FORCE_PLATFORM", "USED"), 0.0)[0]
        self.plates = int(plates) if 0 < plates < _MOST_PLATES else 0
        subjects = [clean(t)[0] for t in structure.texts("SUBJECTS", "NAMES") if t.strip(b"\x00 ")]
        self.subjects = len(subjects)
        if any(looks_personal(subject) for subject in subjects):
            self.findings.append(pseudonym_finding("SUBJECTS:NAMES in the file"))
        if labels_damaged(structure):
            text = "POINT:LABELS is damaged, so labels may stand at the wrong points; export the file again"
            self.findings.append(Finding("labels", "file", None, None, "", "reject", text))
        if all(is_unlabelled(label) for label in self.labels):
            text = "no point has a label, so no marker can be told; label them in the recording software"
            self.findings.append(Finding("labels", "file", 0.0, 1.0, "labels", "reject", text))
        if len(self.prefixes) > 1 or self.subjects > 1:
            text = (
                "there is more than one participant in the file; the marker set's prefix says whose markers are wanted"
            )
            number = float(max(len(self.prefixes), self.subjects))
            self.findings.append(
                Finding("participants in one file", "file", number, 1.0, "participants", "review", text)
            )
