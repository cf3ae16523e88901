"""Form of a test of register flows: each supply and return with one hood."""

from typing import Annotated, ClassVar, Literal

from pydantic import Field

from ..document_parts import Asked, Form, Number, Part, Positive, TestDocument, Word


class Register(Part):
    """One register; null where it was not read."""

    name: Annotated[Word, Asked(label="Register")]
    side: Annotated[Literal["supply", "return"], Asked(label="Supply or return")]
    flow: Annotated[
        Number | None,
        Asked(label="Flow under the hood", quantity="flow", plausible="input.highest-flow"),
    ] = None
    design_flow: Annotated[Positive | None, Asked(label="Design flow", quantity="flow")] = None


class RegisterFlowsDocument(TestDocument):
    """Flows of all registers of one duct system, the air handler at one speed."""

    form: ClassVar[Form] = Form(
        title="Register flows",
        purpose="How much air each register moves, and how much all of them together.",
        moves_air=False,
    )

    kind: Literal["register_flows"]
    method: Literal["powered_hood", "capture_hood"]
    registers: Annotated[list[Register], Field(min_length=1, max_length=60, title="Registers")]
