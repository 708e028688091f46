"""Figures of tests beyond compression, and limits of them that are only added to."""

import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models

from shopdiag.people.append_only import guard, release


def guard_lines(apps, schema_editor):
    guard(schema_editor, "jobs_figurelimit")


def release_lines(apps, schema_editor):
    release(schema_editor, "jobs_figurelimit")


class Migration(migrations.Migration):

    dependencies = [
        ('engines', '0001_squashed'),
        ('jobs', '0006_triage_of_plan'),
        ('people', '0005_invitations'),
    ]

    operations = [
        migrations.AddField(
            model_name='cylinderfinding',
            name='bank',
            field=models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='bank'),
        ),
        migrations.AddField(
            model_name='cylinderfinding',
            name='figures',
            field=models.JSONField(blank=True, editable=False, null=True, verbose_name='figures'),
        ),
        migrations.CreateModel(
            name='FigureLimit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('test', models.CharField(editable=False, max_length=10, verbose_name='test')),
                ('figure', models.CharField(editable=False, max_length=30, verbose_name='figure')),
                ('least', models.FloatField(editable=False, null=True, verbose_name='at least')),
                ('most', models.FloatField(editable=False, null=True, verbose_name='at most')),
                ('apart', models.FloatField(editable=False, null=True, verbose_name='from the mean')),
                ('source', models.CharField(blank=True, editable=False, max_length=200, verbose_name='where it comes from')),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('set_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('engine', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='engines.engine')),
                ('set_by', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('visit', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='figure_limits', to='jobs.visit')),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('engine', None), ('visit', None), _connector='OR'), name='limit_of_one_scope')],
            },
        ),
        migrations.RunPython(guard_lines, release_lines),
    ]
