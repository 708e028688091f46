"""A person may say in which language they read."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0001_squashed")]

    operations = [
        migrations.AddField(
            model_name="user",
            name="language",
            field=models.CharField(
                blank=True, default="", max_length=8, verbose_name="language"
            ),
        ),
    ]
