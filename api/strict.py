"""What may be sent and what is answered: unknown fields are refused, answers carry every field."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers


class Strict(serializers.Serializer):
    """Fields a person sends. What is not given stays as it is; what is not a field is refused by name."""

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, Mapping):
            raise serializers.ValidationError({"": ["Give a JSON object."]})
        takes = [name for name, field in self.fields.items() if not field.read_only]
        unknown = [str(name)[:60] for name in data if name not in takes]
        if unknown:
            words = f"is not taken here: give {', '.join(takes) or 'no fields'}."
            raise serializers.ValidationError({name: [f"{name} {words}"] for name in unknown[:20]})
        return super().to_internal_value(data)


class Empty(Strict):
    """Nothing."""


class Shown(serializers.Serializer):
    """Fields of an answer: all of them, always; what is only ever sent is left out."""

    def get_fields(self) -> dict[str, Any]:
        fields = {name: field for name, field in super().get_fields().items() if not field.write_only}
        for field in fields.values():
            field.read_only, field.required = True, False
        return {"uid": fields["uid"], **fields} if "uid" in fields else fields
