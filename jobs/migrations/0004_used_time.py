"""Time and parts used on a job; the database refuses to change a line."""

import django.core.validators
import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models

from shopdiag.people.append_only import guard, release


def guard_lines(apps, schema_editor):
    guard(schema_editor, "jobs_usedline")


def release_lines(apps, schema_editor):
    release(schema_editor, "jobs_usedline")


class Migration(migrations.Migration):

    dependencies = [
        ("jobs", "0003_questions"),
        ("people", "0001_squashed"),
    ]

    operations = [
        migrations.CreateModel(
            name="UsedLine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("is_repair", models.BooleanField(default=False)),
                ("minutes", models.PositiveIntegerField(default=0, validators=[django.core.validators.MaxValueValidator(1440)], verbose_name="minutes")),
                ("amount", models.DecimalField(decimal_places=2, default=0, max_digits=10, validators=[django.core.validators.MinValueValidator(0)], verbose_name="amount")),
                ("what", models.CharField(blank=True, max_length=200, verbose_name="what for")),
                ("form_token", models.UUIDField(editable=False, null=True, unique=True)),
                ("at", models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ("by", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.member")),
                ("takes_back", models.OneToOneField(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="taken_back_by", to="jobs.usedline")),
                ("visit", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="used_lines", to="jobs.visit")),
                ("work_order", models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="used_lines", to="jobs.workorder")),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.RunPython(guard_lines, release_lines),
    ]
