"""The store: learners, exercises, attempts, drafts, and the sums that progress is read from.

Importing this package is light; SQLAlchemy is loaded when `Store` is first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.store.account_records import (
        Account,
        AccountLink,
        AuditEntry,
        Failures,
        Identity,
        NewAccount,
        Role,
        Session,
        SignedIn,
    )
    from trainer.store.address import location_name
    from trainer.store.class_records import (
        AcceptedChart,
        Assigned,
        AssignedAttempt,
        Assignment,
        AssignmentItem,
        AttemptGrade,
        ClassRecord,
        EarlierGrade,
        GradedAnswer,
        ItemWithSong,
        JoinCode,
        Member,
        Override,
    )
    from trainer.store.dictation_records import Dictation, DictationAnswer, DictationState
    from trainer.store.files import (
        FILE_NAME,
        default_data_folder,
        make_private_folder,
        private_opener,
    )
    from trainer.store.learners import NOBODY_NAMED, clean_name
    from trainer.store.lti import DueScore, Waiting
    from trainer.store.records import (
        AttemptDetail,
        AttemptRecord,
        ConfusionCount,
        DayRecord,
        ExerciseRecord,
        ExerciseSource,
        Imported,
        Learner,
        LessonRun,
        LevelBest,
        NewAttempt,
        NewLessonRun,
        OpenDrill,
        RatingDay,
        RatingUpdate,
        SetItem,
        SkillDay,
        StoredAttempt,
        storable,
    )
    from trainer.store.reports import (
        StoredAdvice,
        StoredBar,
        StoredReport,
        StoredSpeed,
        read_report,
    )
    from trainer.store.song_records import (
        LONGEST_TAG,
        NewVersion,
        SetSong,
        SongPage,
        SongRecord,
        SongSet,
        SongVersion,
    )
    from trainer.store.store import Repositories, Store
    from trainer.store.transfer import AttemptEntry, LearnerExport, read_export

__all__ = [
    "FILE_NAME",
    "LONGEST_TAG",
    "NOBODY_NAMED",
    "AcceptedChart",
    "Account",
    "AccountLink",
    "Assigned",
    "AssignedAttempt",
    "Assignment",
    "AssignmentItem",
    "AttemptDetail",
    "AttemptEntry",
    "AttemptGrade",
    "AttemptRecord",
    "AuditEntry",
    "ClassRecord",
    "ConfusionCount",
    "DayRecord",
    "Dictation",
    "DictationAnswer",
    "DictationState",
    "DueScore",
    "EarlierGrade",
    "ExerciseRecord",
    "ExerciseSource",
    "Failures",
    "GradedAnswer",
    "Identity",
    "Imported",
    "ItemWithSong",
    "JoinCode",
    "Learner",
    "LearnerExport",
    "LessonRun",
    "LevelBest",
    "Member",
    "NewAccount",
    "NewAttempt",
    "NewLessonRun",
    "NewVersion",
    "OpenDrill",
    "Override",
    "RatingDay",
    "RatingUpdate",
    "Repositories",
    "Role",
    "Session",
    "SetItem",
    "SetSong",
    "SignedIn",
    "SkillDay",
    "SongPage",
    "SongRecord",
    "SongSet",
    "SongVersion",
    "Store",
    "StoredAdvice",
    "StoredAttempt",
    "StoredBar",
    "StoredReport",
    "StoredSpeed",
    "Waiting",
    "clean_name",
    "default_data_folder",
    "location_name",
    "make_private_folder",
    "private_opener",
    "read_export",
    "read_report",
    "storable",
]

_HOMES = {
    **dict.fromkeys(
        (
            "AcceptedChart",
            "Assigned",
            "AssignedAttempt",
            "Assignment",
            "AssignmentItem",
            "AttemptGrade",
            "ClassRecord",
            "EarlierGrade",
            "GradedAnswer",
            "ItemWithSong",
            "JoinCode",
            "Member",
            "Override",
        ),
        "class_records",
    ),
    **dict.fromkeys(("Dictation", "DictationAnswer", "DictationState"), "dictation_records"),
    "DueScore": "lti",
    "Waiting": "lti",
    "Store": "store",
    "location_name": "address",
    "Repositories": "store",
    "AttemptEntry": "transfer",
    "LearnerExport": "transfer",
    "read_export": "transfer",
    "StoredAdvice": "reports",
    "StoredBar": "reports",
    "StoredReport": "reports",
    "StoredSpeed": "reports",
    "read_report": "reports",
    **dict.fromkeys(
        (
            "LONGEST_TAG",
            "NewVersion",
            "SetSong",
            "SongPage",
            "SongRecord",
            "SongSet",
            "SongVersion",
        ),
        "song_records",
    ),
    **dict.fromkeys(
        (
            "Account",
            "AccountLink",
            "AuditEntry",
            "Failures",
            "Identity",
            "NewAccount",
            "Role",
            "Session",
            "SignedIn",
        ),
        "account_records",
    ),
    "NOBODY_NAMED": "learners",
    "clean_name": "learners",
    "make_private_folder": "files",
    "private_opener": "files",
    "FILE_NAME": "files",
    "default_data_folder": "files",
}


def __getattr__(name: str) -> Any:
    """Load a name from its module when it is first used (PEP 562)."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES.get(name, 'records')}"), name)
