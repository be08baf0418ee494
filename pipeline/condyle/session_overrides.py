"""What `accept:` in the session file did: which rejects it let through, where that is written, and what it did not meet."""

from dataclasses import replace

import numpy as np

from condyle.files.session_file import Accept
from condyle.files.suggestion import hint
from condyle.findings import ACCEPTED, Finding
from condyle.running import Processed
from condyle.session_result import SessionResult


def note_overrides(result: SessionResult) -> None:
    """Write each override into the trials it concerns, and a finding for each that matches no rejected finding.

    A trial carries the overrides of its own and of its standing trial: the attribute ``accepted`` goes into its NetCDF
    file, and what was found about its repetitions names them.
    """
    session = result.plan.session
    for accept in session.accept:
        if not _matches(result.trials[accept.trial], accept):
            done = result.trials[accept.trial]
            result.trials[accept.trial] = replace(done, findings=(*done.findings, _unmatched(done, accept)))
    static_of = {trial.name: session.name_of(trial.static) for trial in session.trials}
    for name, done in result.trials.items():
        about = (name, static_of.get(name, name))
        said = [
            f"{'' if a.trial == name else f'{a.trial}, '}{a.subject}, {a.check}: {a.why}"
            for a in session.accept
            if a.trial in about and _matches(result.trials[a.trial], a)
        ]
        if said and not done.rejected:
            result.trials[name] = _marked(done, said)


def _marked(done: Processed, said: list[str]) -> Processed:
    trial = done.trial.assign_attrs(accepted="; ".join(said))
    if "repetition_findings" in trial:
        remark = ";".join(f"accepted by hand: {words.replace(';', ',')}" for words in said)
        before = trial.variables["repetition_findings"].values.tolist()
        words = np.array([f"{found};{remark}" if found else remark for found in before], dtype="U")
        trial = trial.assign(repetition_findings=trial["repetition_findings"].copy(data=words))
    return replace(done, trial=trial)


def _matches(done: Processed, accept: Accept) -> bool:
    return any(
        (f.subject, f.check) == (accept.subject, accept.check) and f.advice == f"{ACCEPTED}{accept.why}"
        for f in done.findings
    )


def _unmatched(done: Processed, accept: Accept) -> Finding:
    """Why an override did nothing: the finding is not there, no reject, or nothing could be computed."""
    there = [f for f in done.findings if (f.subject, f.check) == (accept.subject, accept.check)]
    named = f"`accept` names {accept.subject}, {accept.check}, which"
    if any(f.verdict == "reject" for f in there):
        words = f"{named} cannot be accepted: without it nothing can be computed; see its own row."
    elif there:
        words = f"{named} does not reject this trial; take it out of the session file."
    else:
        rejects = [f"{f.subject}, {f.check}" for f in done.findings if f.verdict == "reject" or ACCEPTED in f.advice]
        near = hint(f"{accept.subject}, {accept.check}", rejects) if rejects else ""
        words = f"{named} was not found in this trial{near}; correct the session file or take it out."
    return Finding("accepted by hand", accept.subject, None, None, "", "review", words)
