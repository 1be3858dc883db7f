"""Who may see what has no selector below: the company's own things, which no property owns."""

from django.db.models import Q, QuerySet

from core.act import Act
from core.models import Message, Token, User
from jobs.read import visible
from maintenance.models import DueWindow, Feed, Gauge, RainRow, RainTable, Rule, RuleOverride
from maintenance.read.due import DueFilter, due


def technicians(act: Act) -> QuerySet[User]:
    """People of the company who work there now: the office all, the crew themselves."""
    rows = User.objects.filter(is_active=True)
    return rows if act.is_office else rows.filter(pk=act.user_id or 0)


def own_tokens(act: Act) -> QuerySet[Token]:
    """API tokens of the asking person alone, whatever the role."""
    return Token.objects.filter(kind=Token.Kind.API, user_id=act.user_id or 0)


def messages(act: Act) -> QuerySet[Message]:
    """What was and will be sent: the office's alone."""
    return Message.objects.all() if act.is_office else Message.objects.none()


def feeds(act: Act) -> QuerySet[Feed]:
    """Calendar feeds: the office all, a technician their own."""
    return Feed.objects.all() if act.is_office else Feed.objects.filter(user_id=act.user_id or 0)


def rules(act: Act) -> QuerySet[Rule]:
    """Rules: of the company's people."""
    return Rule.objects.all() if act.is_office or act.role == "crew" else Rule.objects.none()


def rule_overrides(act: Act) -> QuerySet[RuleOverride]:
    """Overrides at visible properties, earlier ones and those taken back among them."""
    return visible.limited(act, RuleOverride.objects.all())


def due_windows(act: Act) -> QuerySet[DueWindow]:
    """Every due window at visible properties, annotated `planned` and `stale`."""
    return due(act, DueFilter(weeks=None))


def gauges(act: Act) -> QuerySet[Gauge]:
    """Rain gauges: of the company's people."""
    return Gauge.objects.all() if act.is_office or act.role == "crew" else Gauge.objects.none()


def rain_rows(act: Act) -> QuerySet[RainRow]:
    """Rain as recorded, corrections as later rows."""
    return RainRow.objects.filter(gauge__in=gauges(act))


def rain_tables(act: Act) -> QuerySet[RainTable]:
    """Depth-duration-frequency tables."""
    seen = Q(area=None) | Q(area__in=visible.areas(act))
    return RainTable.objects.filter(seen) if act.is_office or act.role == "crew" else RainTable.objects.none()
