"""A stand-in for condyle.session: results that follow from the bytes of the trials, and misbehaviour on demand.

A trial file's text says what happens: ``crash``, ``hang``, ``memory``, ``bug``, ``print``, ``reject``, ``full``,
``slow S``, ``until FILE`` (wait until that file tells of a session), or ``once NAME`` (crash if the file NAME beside it is
not there yet; it is then).
"""

import errno
import os
import signal
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

MEASURES = "participant,session,trial,task,condition,side,bout,repetition,measure,value,unit,lower,upper\n"
CONTRIBUTIONS = "participant,session,trial,side,bout,repetition,measure,source,value,unit,lower,upper\n"
REPETITIONS = (
    "participant,session,trial,side,bout,repetition,start_s,bottom_s,end_s,depth_mm,direction,cause,explains,"
    "confidence,from_below,findings,valid,planar_reading,misread\n"
)
QUALITY = "participant,session,trial,subject,check,value,limit,unit,verdict,advice\n"


def process(session_file: str, out: Path, *, overwrite: bool = False, reader: Any = None) -> Any:
    from condyle.errors import DataError
    from condyle.files.atomic import write_text
    from condyle.files.session_plan import load_session

    session = load_session(session_file)
    who = f"{session.participant.id},{session.name}"
    tables = {"measures": MEASURES, "contributions": CONTRIBUTIONS, "repetitions": REPETITIONS, "quality": QUALITY}
    rejected = []
    for trial in session.trials:
        text = trial.file.read_text() if trial.exists else "reject"
        misbehave(text, trial.file.parent, DataError)
        if text.startswith("reject"):
            rejected.append(f"{trial.name}: file, readable: {trial.file} is damaged")
            tables["quality"] += f"{who},{trial.name},file,readable,,,,reject,{trial.file.name} is damaged\n"
            continue
        number = sum(text.encode()) / 7
        tables["quality"] += f"{who},{trial.name},R_ASIS,visible,{number},,%,review,look at it\n"
        for repetition in (1, 2):
            key = f"{who},{trial.name}"
            place = f"right,1,{repetition}"
            tables["measures"] += f"{key},single_leg_squat,,{place},fppa_at_bottom,{number + repetition:.9g},deg,,\n"
            tables["contributions"] += f"{key},{place},fppa,pelvis_rotation,{number:.9g},deg,,\n"
            tables["repetitions"] += f"{key},{place},1.0,2.0,3.0,{number:.9g},medial,at_the_hip,fppa,0.97,,,true,,\n"
    for name, text in tables.items():
        write_text(Path(out) / f"{name}.csv", text)
    write_text(Path(out) / "report.html", "<p>report</p>")
    status = "rejected" if len(rejected) == len(session.trials) else "done"
    quality = None
    return SimpleNamespace(status=status, tables={"quality": quality}, complaints=lambda: rejected)


def told_in(log: str) -> bool:
    """Whether a log tells of a session; no log never does."""
    return Path(log).is_file() and '"event": "session"' in Path(log).read_text()


def misbehave(text: str, folder: Path, data_error: type[Exception]) -> None:
    word, _, rest = text.strip().partition(" ")
    if word == "crash":
        os.kill(os.getpid(), signal.SIGSEGV)
    elif word == "once":
        if not (folder / rest).exists():
            (folder / rest).touch()
            os.kill(os.getpid(), signal.SIGKILL)
    elif word in ("hang", "until"):
        while not told_in(rest):
            time.sleep(0.02)
    elif word == "slow":
        time.sleep(float(rest))
    elif word == "memory":
        bytearray(64 * 2**30)
    elif word == "bug":
        raise ZeroDivisionError("division by zero")
    elif word == "print":
        print("a library talks to itself", flush=True)
    elif word == "full":
        error = OSError(errno.ENOSPC, "No space left on device")
        raise data_error("measures.csv could not be written: no space left on device.") from error
