"""The stage of supports: stakes and cages with the plants, a trellis before the vine falls over."""

from __future__ import annotations

from strawbell.agronomy.crops.supports import support_plan
from strawbell.model.brief import Action, Caution, Task
from strawbell.model.details import SupportDetail
from strawbell.season.stage import Day, planting_label, simple_task, standing
from strawbell.season.task_keys import once_key


def supports(day: Day) -> tuple[Task, ...]:
    """Return the supports that have to stand by a date; for stakes, the morning after planting."""
    tasks = []
    for each, since in standing(day):
        key = once_key(day.batch.name, Action.SUPPORT, planting_label(day.batch, each))
        if key in day.state.done:
            continue
        plan = support_plan(each.crop, since, day.batch.bale.height_cm, each.method)
        if plan is None or day.on < plan.by:
            continue
        detail = SupportDetail(each.crop.mature_height_cm, round(plan.upright_cm))
        tasks.append(
            simple_task(
                day,
                Action.SUPPORT,
                key,
                planting=each,
                cautions=(Caution.STAKES,),
                detail=detail,
            )
        )
    return tuple(tasks)
