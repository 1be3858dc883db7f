from core.models.company import CompanySettings, StoredFile
from core.models.history import History
from core.models.messages import Heartbeat, Message, Suppression
from core.models.people import Token, User

__all__ = ["CompanySettings", "Heartbeat", "History", "Message", "StoredFile", "Suppression", "Token", "User"]
