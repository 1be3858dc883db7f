"""Keeps what was known of a component and when, so that an earlier day can be computed again as it was."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from jobs.models import Component, ComponentVersion


def version_data(component: Component) -> dict[str, Any]:
    """What a version holds; dates ISO or None, uids as text or None.

    `canopy` is the one in force: the component's own, else the property's.
    """
    return {
        "kind": component.kind,
        "kind_version": component.kind_version,
        "tag": component.tag,
        "dimensions": component.dimensions,
        "certainty": component.certainty,
        "installed_on": component.installed_on.isoformat() if component.installed_on else None,
        "retired_on": component.retired_on.isoformat() if component.retired_on else None,
        "retired_because": component.retired_because,
        "canopy": component.canopy or component.property.canopy,
        "consequence": component.property.consequence,
        "system_uid": str(component.system.uid) if component.system else None,
        "sits_in_uid": str(component.sits_in.uid) if component.sits_in else None,
        "part_of_uid": str(component.part_of.uid) if component.part_of else None,
    }


def record_version(component: Component, at: datetime) -> ComponentVersion:
    """Append what is known of `component` from `at` on. Call after every change of it, in the same transaction."""
    return ComponentVersion.objects.create(component=component, recorded_at=at, data=version_data(component))


def record_versions(components: Iterable[Component], at: datetime) -> int:
    """Append one version for each; give components with property, system, sits_in and part_of already loaded."""
    rows = [ComponentVersion(component=part, recorded_at=at, data=version_data(part)) for part in components]
    return len(ComponentVersion.objects.bulk_create(rows, batch_size=500))
