"""How each piece a gate asks for is looked for in the records; what no record shows is on file."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from agency.accounts.models import User
from agency.jobs.models import Inspection, Job, Proof, Visit
from agency.people.models import Credential
from agency.rulebook.shipped import RuleSet
from agency.wording import words


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Whether a piece is there, what is known of it, and which records say so."""

    is_there: bool
    detail: str
    ids: tuple[str, ...] = ()
    may_be_recorded: bool = False


@dataclass(kw_only=True)
class Case:
    """One job before a gate: who wants it through, on which day, under which rules."""

    job: Job
    by: User
    on: date
    rules: RuleSet

    @cached_property
    def proofs(self) -> dict[str, Proof]:
        """The newest standing proof of each piece."""
        rows = self.job.proofs.standing().select_related("by").order_by("at", "id")
        return {proof.piece: proof for proof in rows}

    @cached_property
    def visits(self) -> list[Visit]:
        """The visits in the order planned."""
        return list(self.job.visits.select_related("crew", "inspector"))

    def next_visit(self, kind: str) -> Visit | None:
        """The visit of a kind that is to be made, else the last one made."""
        ours = [visit for visit in self.visits if visit.kind == kind]
        waiting = [visit for visit in ours if not visit.outcome]
        return next(iter(waiting[:1] or ours[-1:]), None)


def there(detail: str, *ids: object) -> Found:
    """The piece is there."""
    return Found(is_there=True, detail=detail, ids=tuple(map(str, ids)))


def lacking(detail: str) -> Found:
    """The piece is not there, and follows from other records."""
    return Found(is_there=False, detail=detail)


def on_file(case: Case, piece: str) -> Found:
    """What someone recorded by name."""
    proof = case.proofs.get(piece)
    if proof is None:
        return Found(is_there=False, detail="Nothing is on file.", may_be_recorded=True)
    need = "" if proof.is_needed else "Not needed: "
    return Found(
        is_there=True,
        detail=f"{need}{proof.words} ({words.day(proof.dated_on)}, {proof.by})",
        ids=(str(proof.pk),),
        may_be_recorded=True,
    )


def or_on_file(case: Case, piece: str, found: Found) -> Found:
    """What the records show; where they do not, what someone recorded."""
    return found if found.is_there else _explained(on_file(case, piece), found.detail)


def _explained(filed: Found, why: str) -> Found:
    if filed.is_there:
        return filed
    return Found(is_there=False, detail=why, may_be_recorded=True)


def determination(case: Case) -> Found:
    """On file, and not older on the day of the audit's visit than it may be."""
    filed = on_file(case, "determination")
    if not filed.is_there:
        return filed
    proof, most = case.proofs["determination"], case.rules.setting("eligibility.months")
    visit = case.next_visit(Visit.Kind.TEST_IN)
    day = visit.planned_on if visit else case.on
    if day > same_day_later(proof.dated_on, int(most)):
        return Found(
            is_there=False,
            detail=(
                f"It is of {words.day(proof.dated_on)}; on {words.day(day)} it is older than the "
                f"{most:.0f} months it holds."
            ),
            may_be_recorded=True,
        )
    return filed


def same_day_later(day: date, months: int) -> date:
    """The same day of a later month, or its last day where the month is shorter."""
    year, month = divmod(day.month - 1 + months, 12)
    for number in range(day.day, 27, -1):
        try:
            return date(day.year + year, month + 1, number)
        except ValueError:
            continue
    return date(day.year + year, month + 1, day.day)


def dwelling_not_done(case: Case) -> Found:
    """No other job of this house was finished within the bar."""
    years = int(case.rules.setting("dwelling.years"))
    others = Job.objects.filter(house=case.job.house_id).exclude(pk=case.job.pk)
    done = others.exclude(inspection_passed_on=None).order_by("-inspection_passed_on").first()
    if done is None or done.inspection_passed_on is None:
        return there("No earlier job of this house is known.")
    free_from = same_day_later(done.inspection_passed_on, 12 * years)
    if case.on >= free_from:
        return there(f"{done} passed {words.day(done.inspection_passed_on)}, long enough ago.")
    found = lacking(
        f"{done} passed its inspection {words.day(done.inspection_passed_on)}; "
        f"the home is free again from {words.day(free_from)}."
    )
    return or_on_file(case, "dwelling_not_done", found)


def planned(kind: Visit.Kind) -> Callable[[Case], Found]:
    """A visit of this kind is planned."""

    def check(case: Case) -> Found:
        visit = case.next_visit(kind)
        if visit is None:
            return lacking(f"No {kind.label.lower()} visit is planned.")
        who = visit.inspector or visit.crew
        if who is None:
            return lacking(f"The visit of {words.day(visit.planned_on)} names nobody.")
        return there(f"{words.day(visit.planned_on)}, {who}.", visit.pk)

    return check


def certified(kind: Visit.Kind, credential: Credential.Kind) -> Callable[[Case], Found]:
    """Whoever makes the visit holds the credential on its day, which need not be today."""

    def check(case: Case) -> Found:
        visit = case.next_visit(kind)
        if visit is None:
            return lacking(f"No {kind.label.lower()} visit is planned.")
        return holds(visit, credential)

    return check


def holds(visit: Visit, credential: Credential.Kind) -> Found:
    """A credential of whoever makes the visit, valid on its day."""
    ours = Credential.objects.filter(kind=credential).select_related("member", "user")
    if visit.inspector is not None:
        ours = ours.held_by(visit.inspector)
    elif visit.crew is not None:
        ours = ours.in_crew(visit.crew)
    else:
        return lacking(f"The visit of {words.day(visit.planned_on)} names nobody.")
    valid = ours.valid_on(visit.planned_on).first()
    if valid is not None:
        until = words.day(valid.expires_on)
        return there(f"{valid.holder}, no. {valid.number}, valid until {until}.", valid.pk)
    who, day = visit.inspector or visit.crew, words.day(visit.planned_on)
    last = ours.order_by("expires_on").last()
    if last is None:
        return lacking(f"No credential “{credential.label.lower()}” is entered for {who}.")
    return lacking(
        f"{last.holder}'s credential no. {last.number} expires {words.day(last.expires_on)}; "
        f"it is not valid on {day}."
    )


def no_open_stop(case: Case) -> Found:
    """Every safety stop is cleared."""
    stops = case.job.open_stops
    if not stops:
        return there("None is open.")
    return lacking(" ".join(stop.words for stop in stops))


def change_orders(case: Case) -> Found:
    """Each is approved or refused."""
    waiting = [one.words for one in case.job.change_orders.waiting()]
    if not waiting:
        return there("None is waiting.")
    return lacking(f"Not decided: {'; '.join(waiting)}.")


def findings_closed(case: Case) -> Found:
    """Each has its evidence."""
    findings = list(case.job.findings.all())
    still_open = [one.words.rstrip(".") for one in findings if one.is_open]
    if still_open:
        return lacking(f"Open: {'; '.join(still_open)}.")
    if not findings:
        return there("No inspection found anything.")
    return there(f"{words.count(len(findings), 'finding')} closed.", *(one.pk for one in findings))


def deferral(case: Case) -> Found:
    """Proposed, and approved by another."""
    one = case.job.deferrals.in_force().first()
    if one is not None:
        return there(f"{one.reason_words}; look again {words.day(one.review_on)}.", one.pk)
    if case.job.deferrals.proposed().exists():
        return lacking("It is proposed, and not approved.")
    return lacking("None is proposed.")


def end_of_deferral(case: Case) -> Found:
    """The newest deferral has ended, with its proof."""
    one = case.job.deferrals.exclude(ended_at=None).order_by("-ended_at").first()
    if one is None or case.job.deferrals.in_force().exists():
        return lacking("The deferral is still in force.")
    return there(f"{one.get_ended_as_display()}: {one.proof_of_end}", one.pk)


def dimensions(case: Case) -> Found:
    """Both are in the house's record."""
    house = case.job.house
    both = {"floor area": house.floor_area_sqft, "volume": house.volume_cuft}
    unknown = [name for name, size in both.items() if size is None]
    if unknown:
        return lacking(f"Not measured: {' and '.join(unknown)}.")
    return there("Both are entered.")


def is_of_lead_paint_time(case: Case) -> bool:
    """Unknown age counts as old."""
    built = case.job.house.year_built
    return built is None or built < case.rules.setting("lead.built_before")


def renovator(case: Case) -> Found:
    """In a home that may hold lead paint the crew has a certified renovator on the day."""
    if not is_of_lead_paint_time(case):
        return there(f"Built {case.job.house.year_built}: not needed.")
    found = certified(Visit.Kind.WORK, Credential.Kind.RENOVATOR)(case)
    return or_on_file(case, "renovator", found)


def pamphlet(case: Case) -> Found:
    """Given before the work, and not too long before."""
    if not is_of_lead_paint_time(case):
        return there(f"Built {case.job.house.year_built}: not needed.")
    filed = on_file(case, "pamphlet")
    visit = case.next_visit(Visit.Kind.WORK)
    if not filed.is_there or visit is None or not case.proofs["pamphlet"].is_needed:
        return filed
    given, most = case.proofs["pamphlet"].dated_on, case.rules.setting("lead.pamphlet_days")
    if 0 <= (visit.planned_on - given).days <= most:
        return filed
    return Found(
        is_there=False,
        detail=(
            f"Given {words.day(given)}; that is not within the {most:.0f} days before the work of "
            f"{words.day(visit.planned_on)}."
        ),
        may_be_recorded=True,
    )


def inspector_credential(case: Case) -> Found:
    """Of the person who signs, on the day of the inspection."""
    visit = Visit(planned_on=case.on, inspector=case.by)
    return holds(visit, Credential.Kind.INSPECTOR)


def independence_of(job: Job, inspector: User) -> Inspection.Independence:
    """How far the inspector stands from audit and work."""
    if job.was_worked_by(inspector):
        return Inspection.Independence.NONE
    if job.was_tested_in_by(inspector):
        return Inspection.Independence.AUDITOR_SAME
    return Inspection.Independence.INDEPENDENT


def independence(case: Case) -> Found:
    """Never of the crew; the auditor only where the rule book lets auditors inspect."""
    level = independence_of(case.job, case.by)
    if level == Inspection.Independence.NONE:
        return lacking(f"{case.by} has worked on this job.")
    may = case.rules.setting("inspection.auditor_may_inspect") == 1
    if level == Inspection.Independence.AUDITOR_SAME and not may:
        return lacking(f"{case.by} made the audit of this job.")
    return there(f"{case.by}: {level.label.lower()}.")


def contact_tried(case: Case) -> Found:
    """Often enough, and not always in the same way."""
    tried = list(case.job.contacts.values_list("channel", flat=True))
    attempts, channels = len(tried), len(set(tried))
    most = case.rules.setting("contact.attempts"), case.rules.setting("contact.channels")
    detail = (
        f"{words.count(attempts, 'attempt')} of {most[0]:.0f}, by "
        f"{words.count(channels, 'channel')} of {most[1]:.0f}."
    )
    enough = attempts >= most[0] and channels >= most[1]
    return there(detail) if enough else lacking(detail)


CHECKS: Mapping[str, Callable[[Case], Found]] = {
    "determination": determination,
    "dwelling_not_done": dwelling_not_done,
    "audit_visit": planned(Visit.Kind.TEST_IN),
    "auditor_credential": certified(Visit.Kind.TEST_IN, Credential.Kind.AUDITOR),
    "work_visit": planned(Visit.Kind.WORK),
    "crew_leader": certified(Visit.Kind.WORK, Credential.Kind.CREW_LEADER),
    "renovator": renovator,
    "pamphlet": pamphlet,
    "no_open_stop": no_open_stop,
    "change_orders": change_orders,
    "findings_closed": findings_closed,
    "deferral": deferral,
    "end_of_deferral": end_of_deferral,
    "dimensions": dimensions,
    "inspector_credential": inspector_credential,
    "independence": independence,
    "contact_tried": contact_tried,
}
