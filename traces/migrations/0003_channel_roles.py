"""What a file's channels show, kept with its reading."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("traces", "0002_clamps")]

    operations = [
        migrations.AddField(
            model_name="reading",
            name="roles",
            field=models.JSONField(default=dict, editable=False),
        )
    ]
