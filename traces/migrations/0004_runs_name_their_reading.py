import django.db.models.deletion
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from shopdiag.people.append_only import guard, release


def on(_apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    guard(schema_editor, "traces_pinnednote")


def off(_apps: object, schema_editor: BaseDatabaseSchemaEditor) -> None:
    release(schema_editor, "traces_pinnednote")


class Migration(migrations.Migration):
    dependencies = [("traces", "0003_point_readings")]

    operations = [
        migrations.AlterField(
            model_name="run",
            name="reading",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="runs",
                to="traces.reading",
            ),
        ),
        migrations.RunPython(on, off),
    ]
