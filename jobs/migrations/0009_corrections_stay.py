"""Findings are guarded again, whose table was rebuilt; counts and freeze frames are from now on."""

from django.db import migrations

from shopdiag.people.append_only import guard, release

NEW = ("jobs_misfirecounts", "jobs_freezeframe")


def put_on(apps, schema_editor):
    for table in ("jobs_cylinderfinding", *NEW):
        guard(schema_editor, table)


def take_off(apps, schema_editor):
    for table in NEW:
        release(schema_editor, table)


class Migration(migrations.Migration):
    dependencies = [("jobs", "0008_corrections_and_whole_engine")]

    operations = [migrations.RunPython(put_on, take_off)]
