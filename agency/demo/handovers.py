"""What invented households are told beside their tests, in their own language."""

from agency.accounts.models import User
from agency.certificates.models import Handover
from agency.jobs.models import Job

TOLD = {
    "en": {
        "work": "Attic: sealed around pipes and wires, added 10 inches of insulation\n"
        "Kitchen: new range hood that leads outdoors\n"
        "Basement: sealed the rim joist\n"
        "Front door: new weatherstrip and sweep",
        "ventilation": "A quiet fan in the bathroom brings in fresh air all day. Leave it on.",
        "alarms": "Smoke alarm, hall: replace in {replace}\n"
        "Carbon monoxide alarm, by the bedrooms: replace in {replace}",
    },
    "es": {
        "work": "Ático: se sellaron los pasos de tubos y cables, más 10 pulgadas de aislante\n"
        "Cocina: campana nueva que saca el aire afuera\n"
        "Sótano: se selló la viga perimetral\n"
        "Puerta principal: burlete nuevo",
        "ventilation": "Un ventilador silencioso en el baño trae aire fresco todo el día. "
        "Déjelo encendido.",
        "alarms": "Alarma de humo, pasillo: cambiarla en {replace}\n"
        "Alarma de monóxido de carbono, junto a los dormitorios: cambiarla en {replace}",
    },
}
ALARM_YEARS = 10
PAINT_MAY_HOLD_LEAD_BEFORE = 1978


def hand_over(job: Job, by: User, *, year: int) -> Handover:
    """Write down what the certificate of a job tells."""
    said = {
        name: text.format(replace=year + ALARM_YEARS)
        for name, text in TOLD[job.client.language].items()
    }
    built = job.house.year_built
    is_old = built is not None and built < PAINT_MAY_HOLD_LEAD_BEFORE
    lead_safe = Handover.LeadSafe.USED if is_old else Handover.LeadSafe.NOT_NEEDED
    return Handover.write(job, by, **said, lead_safe=lead_safe, inspector_certificate="QM-FI-0155")
