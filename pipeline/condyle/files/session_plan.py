"""A session folder resolved: absolute paths, trial names, statics and corrections, checked before any C3D is read."""

import os
from pathlib import Path
from typing import Literal

from condyle.errors import ConfigurationErrors
from condyle.files.checked import validate
from condyle.files.found_files import RESULTS as RESULTS
from condyle.files.found_files import beside, is_glob, matching
from condyle.files.layered import LayeredText, read_layered_text
from condyle.files.planned import Session, Trial
from condyle.files.session_file import Calibration, SessionFile, Standing, TrialEntry
from condyle.files.shipped import shipped
from condyle.files.suggestion import hint, nearest
from condyle.files.yaml_text import TreePath, shown

FILE_NAME = "session.yaml"
Kind = Literal["marker_set", "pipeline"]


def session_file_of(path: str | os.PathLike[str]) -> Path:
    """The session file behind a path: a folder's session.yaml, or the file itself."""
    given = Path(path)
    if not given.exists():
        raise ConfigurationErrors([f"{shown(given)}: no such file or folder; name a session folder or its {FILE_NAME}"])
    if not given.is_dir():
        return given
    if (given / FILE_NAME).is_file():
        return given / FILE_NAME
    others = sorted(p.name for p in given.iterdir() if p.suffix in (".yaml", ".yml"))
    near = nearest(FILE_NAME, others)
    found = f"; nearest name there: `{near}`" if near else f"; `condyle draft {shown(given)}` writes a first one"
    raise ConfigurationErrors([f"{shown(given)}: no {FILE_NAME} in this folder{found}"])


def load_session(path: str | os.PathLike[str]) -> Session:
    """Read and resolve a session folder or its session.yaml; raises ConfigurationErrors, a sentence a mistake."""
    text = read_layered_text(session_file_of(path))
    declared, sentences = validate(SessionFile, text)
    if declared is None:
        raise ConfigurationErrors(sentences)
    resolver = _Resolver(text, declared)
    session = resolver.session()
    if session is None:
        raise ConfigurationErrors(resolver.sentences)
    return session


def configuration_paths(path: str | os.PathLike[str]) -> tuple[Path | None, Path | None]:
    """Marker set and pipeline that even a session file with mistakes names; None where that cannot be told."""
    try:
        text = read_layered_text(session_file_of(path))
    except ConfigurationErrors:
        return None, None

    def named(key: Kind) -> Path | None:
        value = text.tree.get(key, SessionFile.model_fields[key].default)
        return shipped(key).get(value, text.folder((key,)) / value) if isinstance(value, str) else None

    return named("marker_set"), named("pipeline")


class _Resolver:
    """From what is declared to what is on disk; mistakes are collected, so that all are told at once."""

    def __init__(self, text: LayeredText, declared: SessionFile) -> None:
        self.text = text
        self.declared = declared
        self.mistakes: list[tuple[TreePath, str]] = []
        self.names: dict[Path, str] = {}  # of static and calibration files that have a name of their own

    def wrong(self, path: TreePath, words: str) -> None:
        self.mistakes.append((path, words))

    @property
    def sentences(self) -> list[str]:
        """The mistakes in the order of their lines."""
        ordered = sorted(
            self.mistakes, key=lambda m: (self.text.owner(m[0]).file != self.text.file, self.text.line(m[0]))
        )
        return [self.text.sentence(path, words) for path, words in ordered]

    def path(self, path: TreePath, value: str) -> Path:
        return Path(os.path.normpath(self.text.folder(path) / value))

    def session(self) -> Session | None:
        declared = self.declared
        statics = [self.serving(("static", i), entry, "static trial") for i, entry in enumerate(declared.static)]
        calibrations = {
            str(c.purpose): self.serving(("calibration", i), c, "calibration trial")
            for i, c in enumerate(declared.calibration)
        }
        marker_set = self.configuration("marker_set", declared.marker_set)
        pipeline = self.configuration("pipeline", declared.pipeline)
        own = [
            self.serving(("trials", i, "static"), entry.static, "static trial")
            for i, entry in enumerate(declared.trials)
            if entry.static is not None
        ]
        statics = list(dict.fromkeys([*statics, *own]))
        self.doubled_names(statics, list(calibrations.values()))
        trials = self.trials(statics, {*statics, *calibrations.values()})
        self.accepted(trials, [*statics, *calibrations.values()])
        previous = self.previous()
        if self.mistakes:
            return None
        return Session(
            file=self.text.file.absolute(),
            participant=declared.participant,
            name=declared.session,
            tester=declared.tester,
            affected_side=declared.affected_side,
            marker_set=marker_set,
            pipeline=pipeline,
            statics=tuple(statics),
            calibrations=calibrations,
            trials=tuple(trials),
            accept=declared.accept,
            previous=previous,
            declared=declared,
            names=self.names,
        )

    def serving(self, path: TreePath, entry: Standing | Calibration, what: str) -> Path:
        """The absolute path of a static or calibration file; its name is kept, and must be the same wherever it stands."""
        file = self.needed((*path, "file"), entry.file, what)
        if entry.name is not None and self.names.setdefault(file, entry.name) != entry.name:
            words = (
                f"{shown(file)} is called `{entry.name}` here and `{self.names[file]}` elsewhere; give it one `name:`"
            )
            self.wrong((*path, "name"), words)
        return file

    def called(self, file: Path) -> str:
        return self.names.get(file, file.stem)

    def needed(self, path: TreePath, value: str, what: str) -> Path:
        """The absolute path of a file without which nothing can be computed."""
        file = self.path(path, value)
        if not file.exists():
            self.wrong(path, f"{what} `{value}` is not there{beside(file)}")
        return file

    def configuration(self, key: Kind, value: str) -> Path:
        """The path of a marker set or pipeline: a shipped one by its bare name, else a file."""
        names = shipped(key)
        bare = not value.endswith((".yaml", ".yml")) and "/" not in value and "\\" not in value
        if bare and value in names:
            return names[value]
        what = key.replace("_", " ")
        if bare and not self.path((key,), value).is_file():
            self.wrong((key,), f"{what} `{value}` is neither a file nor shipped{hint(value, names)}")
            return Path(value)
        return self.needed((key,), value, what)

    def trials(self, statics: list[Path], taken: set[Path]) -> list[Trial]:
        """Every trial; a glob takes what is neither static, calibration nor named by an entry of its own."""
        entries = self.declared.trials
        folders = [self.text.folder(("trials", i)) for i in range(len(entries))]
        plain = {i: self.path(("trials", i), e.file) for i, e in enumerate(entries) if not is_glob(e.file, folders[i])}
        others = {self.called(p).casefold(): p for p in taken}
        taken = taken | set(plain.values())
        trials: list[Trial] = []
        names: dict[str, Path] = {}
        for i, entry in enumerate(entries):
            files = [plain[i]] if i in plain else self.matches(i, entry, folders[i], taken)
            taken.update(files)
            for file in files:
                name = entry.name or file.stem
                key = name.casefold()  # some file systems do not tell cases apart, and the name becomes a file's
                if key in names:
                    self.doubled(i, name, names[key])
                elif key in others:
                    what = "static" if others[key] in statics else "calibration"
                    words = f"trial `{name}` is called as the {what} trial {shown(others[key])}"
                    self.wrong(("trials", i), f"{words}; give it another `name:`, or take it out of the trials")
                names[key] = file
                trials.append(self.trial(i, entry, name, file, statics))
        return trials

    def doubled_names(self, statics: list[Path], calibrations: list[Path]) -> None:
        """Two files of one name, which is the stem where they have none of their own, would be one trial."""
        places: list[tuple[TreePath, Path]] = [(("static",), p) for p in statics]
        places += [(("calibration", i, "file"), p) for i, p in enumerate(calibrations)]
        seen: dict[str, Path] = {}
        for place, path in places:
            if (other := seen.setdefault(self.called(path).casefold(), path)) != path:
                words = f"{shown(path)} and {shown(other)} would be one trial, `{self.called(path)}`"
                self.wrong(place, f"{words}; give one of them another `name:`")

    def matches(self, index: int, entry: TrialEntry, folder: Path, taken: set[Path]) -> list[Path]:
        found = [Path(os.path.normpath(folder / name)) for name in matching(entry.file, folder)]
        files = [f for f in dict.fromkeys(found) if f not in taken]
        if not files:
            of = " besides static, calibration and trials named by themselves" if found else ""
            self.wrong(("trials", index), f"`{entry.file}` matches no file in {shown(folder)}{of}")
        if len(files) > 1 and entry.name:
            self.wrong(("trials", index, "name"), f"one name for the {len(files)} files that `{entry.file}` matches")
            return files[:1]
        return files

    def doubled(self, index: int, name: str, other: Path) -> None:
        words = f"trial `{name}` stands twice (the other is {shown(other)}); give one of them another `name:`"
        self.wrong(("trials", index), words)

    def trial(self, index: int, entry: TrialEntry, name: str, file: Path, statics: list[Path]) -> Trial:
        own = entry.static
        static = statics[0] if own is None else self.path(("trials", index, "static"), own.file)
        return Trial(
            name=name,
            file=file,
            exists=file.exists(),
            task=entry.task,
            side=entry.side,
            static=static,
            condition=dict(entry.condition),
            use_s=entry.use_s,
            leave_out=entry.leave_out,
            repetitions_s=entry.repetitions_s,
            why=entry.why,
        )

    def accepted(self, trials: list[Trial], others: list[Path]) -> None:
        known = list(dict.fromkeys([*(t.name for t in trials), *(self.called(p) for p in others)]))
        for i, accept in enumerate(self.declared.accept):
            if accept.trial not in known:
                self.wrong(
                    ("accept", i, "trial"), f"trial `{accept.trial}` is not in this session{hint(accept.trial, known)}"
                )

    def previous(self) -> Path | None:
        if self.declared.previous is None:
            return None
        folder = self.path(("previous",), self.declared.previous)
        if not folder.is_dir():
            self.wrong(("previous",), f"no such folder: `{self.declared.previous}`")
        return folder
