from jobs.models.construction import Job, JobStep, Photo
from jobs.models.people import Customer, PropertyRole
from jobs.models.properties import Area, Hazard, Property, PropertyAccess
from jobs.models.systems import Component, ComponentVersion, Connection, DrainageArea, System

__all__ = [
    "Area",
    "Component",
    "ComponentVersion",
    "Connection",
    "Customer",
    "DrainageArea",
    "Hazard",
    "Job",
    "JobStep",
    "Photo",
    "Property",
    "PropertyAccess",
    "PropertyRole",
    "System",
]
