"""What a phone sends beside test runs: how a visit went, and what is said of a photo."""

from dataclasses import dataclass
from typing import Annotated, Literal, Self, TypeVar

from pydantic import AfterValidator, Field, StringConstraints, ValidationError, model_validator

from agency.errors import DocumentRefused

from .cautions import BY_CODE, CAUTIONS, Caution
from .document_json import check_plain_data
from .document_parts import Answer, Code, Key, Moment, Note, Part
from .document_words import choices_words, reasons_from, refusal
from .documents import KINDS

Document = TypeVar("Document", bound=Part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One answer a crew can choose, and its words."""

    code: str
    words: str


NOT_SAFE = (
    *(Reason(code=one.code, words=one.look_for) for one in CAUTIONS),
    Reason(code="building", words="The building is not safe to be in"),
    Reason(code="people", words="A person or an animal makes it unsafe to stay"),
    Reason(code="other", words="Something else"),
)
"""Why a crew does not test, or leaves."""
NOT_POSSIBLE = (
    Reason(code="none_here", words="The house has nothing of the kind"),
    Reason(code="no_access", words="It cannot be reached"),
    Reason(code="declined", words="The client does not want it"),
    Reason(code="not_safe", words="It is not safe"),
    Reason(code="weather", words="Wind or weather"),
    Reason(code="equipment", words="An instrument is missing or broken"),
    Reason(code="no_time", words="No time was left"),
    Reason(code="other", words="Something else"),
)
"""Why one test was not made."""
SAID = Annotated[
    str, StringConstraints(strict=True, strip_whitespace=True, min_length=1, max_length=1000)
]


def _one_of(choices: tuple[str, ...]) -> AfterValidator:
    def known(value: str) -> str:
        if value not in choices:
            raise refusal(
                "not_a_choice",
                "This is none of the choices.",
                limit=choices_words(choices),
                next_step="Send one of the choices.",
            )
        return value

    return AfterValidator(known)


class NotSafe(Part):
    """Why the crew did not test, or left."""

    code: Annotated[Code, _one_of(tuple(one.code for one in NOT_SAFE))]
    words: SAID


class NotPossible(Part):
    """A test that was required and not made, and why."""

    kind: Annotated[Code, _one_of(tuple(KINDS))]
    code: Annotated[Code, _one_of(tuple(one.code for one in NOT_POSSIBLE))]
    words: Annotated[str, StringConstraints(strict=True, max_length=1000)] = ""


class VisitReportDocument(Part):
    """How a visit went: on arrival, and again with `left_at` when the crew leaves."""

    client_key: Key
    visit: Key
    arrived_at: Moment
    left_at: Moment | None = None
    safety: Annotated[dict[Code, Literal["clear", "present", "not_here"]], Field(max_length=40)] = (
        Field(default_factory=dict)
    )
    not_safe: NotSafe | None = None
    not_possible: Annotated[list[NotPossible], Field(max_length=40)] = Field(default_factory=list)
    setup: Annotated[dict[Code, Answer], Field(max_length=40)] = Field(default_factory=dict)
    note: Note = ""

    @model_validator(mode="after")
    def times_in_order(self) -> Self:
        if self.left_at is not None and self.left_at < self.arrived_at:
            raise refusal(
                "times_order",
                f"The crew left at {self.left_at.isoformat()}, before it arrived at "
                f"{self.arrived_at.isoformat()}.",
                limit="left_at is not before arrived_at",
                next_step="Correct the time that is wrong.",
            )
        return self

    @property
    def hazards(self) -> list[Caution]:
        """What was found that no fan test may be made beside."""
        found = [code for code, answer in self.safety.items() if answer == "present"]
        if self.not_safe is not None:
            found.append(self.not_safe.code)
        known = (BY_CODE[code] for code in dict.fromkeys(found) if code in BY_CODE)
        return [caution for caution in known if caution.weight == "stop"]


class PhotoDocument(Part):
    """What is said of a photo; `file` is the SHA-256 of the bytes as they came."""

    client_key: Key
    job: Key
    visit: Key | None = None
    test_key: Key | None = None
    caption: Annotated[str, StringConstraints(strict=True, max_length=240)] = ""
    taken_at: Moment
    file: str


def read_as(model: type[Document], data: object) -> Document:
    """`data` as `model` describes it, or DocumentRefused with every reason found."""
    check_plain_data(data)
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise DocumentRefused(reasons_from(error)) from None
