from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import OuterRef, Subquery


def point(apps: Apps, _schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Say of each capture and run which reading it goes by: so far each capture has one."""
    capture, reading, run = (apps.get_model("traces", n) for n in ("Capture", "Reading", "Run"))
    one = reading.objects.filter(capture=OuterRef("pk")).values("pk")[:1]
    capture.objects.update(current_reading=Subquery(one))
    of_run = reading.objects.filter(capture=OuterRef("capture")).values("pk")[:1]
    run.objects.update(reading=Subquery(of_run))


class Migration(migrations.Migration):
    dependencies = [("traces", "0002_readings_and_hands")]

    operations = [migrations.RunPython(point, migrations.RunPython.noop)]
