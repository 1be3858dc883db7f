"""The history refuses UPDATE and DELETE from here on."""

from django.db import migrations

from core.history import install_guard, remove_guard


def forwards(apps, schema_editor):
    install_guard(schema_editor.connection.alias)


def backwards(apps, schema_editor):
    remove_guard(schema_editor.connection.alias)


class Migration(migrations.Migration):
    dependencies = [("core", "0001_initial")]
    operations = [migrations.RunPython(forwards, backwards)]
