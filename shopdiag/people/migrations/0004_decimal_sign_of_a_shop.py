"""A shop may write numbers otherwise than the reader's language does."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0003_paper_of_a_shop")]

    operations = [
        migrations.AddField(
            model_name="shop",
            name="decimal_sign",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "as each reader's language does"),
                    (".", "1,234.5"),
                    (",", "1 234,5"),
                ],
                default="",
                max_length=1,
                verbose_name="numbers written",
            ),
        ),
    ]
