import django.db.models.deletion
import django.utils.timezone
import traces.models
import uuid
from django.db import migrations, models

from shopdiag.people.append_only import guard, release

GUARDED = (
    "traces_pinnednote",
)
"""Lines of these tables are added and never changed; the database itself refuses it."""


def put_on(apps, schema_editor):
    for table in GUARDED:
        guard(schema_editor, table)


def take_off(apps, schema_editor):
    for table in GUARDED:
        release(schema_editor, table)


class Migration(migrations.Migration):

    initial = True

    replaces = [
        ('traces', '0001_initial'),
        ('traces', '0002_readings_and_hands'),
        ('traces', '0003_point_readings'),
        ('traces', '0004_runs_name_their_reading'),
        ('traces', '0005_event_angles'),
        ('traces', '0006_order_by_id'),
        ('traces', '0007_form_tokens'),
        ('traces', '0008_uploads'),
    ]

    dependencies = [
        ('engines', '0001_squashed'),
        ('people', '0001_squashed'),
    ]

    operations = [
        migrations.CreateModel(
            name='WorkerBeat',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, unique=True)),
                ('seen_at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='Capture',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('original', models.FileField(max_length=200, upload_to=traces.models._original_path)),
                ('original_name', models.CharField(max_length=200)),
                ('size_bytes', models.PositiveBigIntegerField()),
                ('sha256', models.CharField(db_index=True, max_length=64)),
                ('label', models.CharField(blank=True, max_length=120, verbose_name='what it shows')),
                ('uploaded_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('uploaded_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='CaptureSetup',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('settings', models.JSONField()),
                ('fuel_off', models.BooleanField(null=True)),
                ('charger_off', models.BooleanField(null=True)),
                ('throttle', models.CharField(blank=True, choices=[('', 'Not noted'), ('closed', 'Closed'), ('open', 'Held open')], max_length=8)),
                ('temperature', models.CharField(blank=True, choices=[('', 'Not noted'), ('cold', 'Cold'), ('warm', 'Warm'), ('hot', 'Hot')], max_length=8)),
                ('battery_v', models.FloatField(null=True)),
                ('form_token', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('change', models.CharField(blank=True, editable=False, max_length=200)),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('came_from', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='traces.capturesetup')),
                ('capture', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='setups', to='traces.capture')),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('engine', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='engines.engine')),
            ],
        ),
        migrations.CreateModel(
            name='FileShape',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('shape', models.CharField(db_index=True, editable=False, max_length=64)),
                ('correction', models.JSONField(editable=False)),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('forgotten_at', models.DateTimeField(editable=False, null=True)),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('learned_from', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='traces.capture')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='PinnedNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at_s', models.FloatField()),
                ('text', models.CharField(max_length=500)),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('capture', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='pinned_notes', to='traces.capture')),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('strikes', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='struck_by', to='traces.pinnednote')),
            ],
            options={
                'ordering': ['at_s', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Reading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('state', models.CharField(choices=[('queued', 'Queued'), ('running', 'Running'), ('done', 'Done'), ('failed', 'Failed')], db_index=True, default='queued', editable=False, max_length=8)),
                ('attempts', models.PositiveSmallIntegerField(default=0, editable=False)),
                ('attempt_token', models.UUIDField(editable=False, null=True)),
                ('queued_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('sent_at', models.DateTimeField(editable=False, null=True)),
                ('started_at', models.DateTimeField(editable=False, null=True)),
                ('heartbeat_at', models.DateTimeField(editable=False, null=True)),
                ('finished_at', models.DateTimeField(editable=False, null=True)),
                ('error', models.TextField(blank=True, editable=False)),
                ('rate_hz_given', models.FloatField(editable=False, null=True)),
                ('correction', models.JSONField(default=dict, editable=False)),
                ('shape', models.CharField(blank=True, db_index=True, editable=False, max_length=64)),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('understood', models.JSONField(default=dict, editable=False)),
                ('samples_file', models.CharField(blank=True, editable=False, max_length=200)),
                ('asked_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('capture', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='readings', to='traces.capture')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='capture',
            name='current_reading',
            field=models.OneToOneField(editable=False, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='traces.reading'),
        ),
        migrations.CreateModel(
            name='Run',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('state', models.CharField(choices=[('queued', 'Queued'), ('running', 'Running'), ('done', 'Done'), ('failed', 'Failed')], db_index=True, default='queued', editable=False, max_length=8)),
                ('attempts', models.PositiveSmallIntegerField(default=0, editable=False)),
                ('attempt_token', models.UUIDField(editable=False, null=True)),
                ('queued_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('sent_at', models.DateTimeField(editable=False, null=True)),
                ('started_at', models.DateTimeField(editable=False, null=True)),
                ('heartbeat_at', models.DateTimeField(editable=False, null=True)),
                ('finished_at', models.DateTimeField(editable=False, null=True)),
                ('error', models.TextField(blank=True, editable=False)),
                ('code_version', models.CharField(blank=True, editable=False, max_length=40)),
                ('sha256', models.CharField(blank=True, editable=False, max_length=64)),
                ('verdict', models.CharField(blank=True, editable=False, max_length=12)),
                ('result', models.JSONField(editable=False, null=True)),
                ('capture', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='runs', to='traces.capture')),
                ('reading', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='traces.reading')),
                ('setup', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='run', to='traces.capturesetup')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='KnownGood',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('note', models.CharField(blank=True, max_length=200)),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('retired_at', models.DateTimeField(editable=False, null=True)),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('engine', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='engines.engine')),
                ('retired_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='known_good', to='traces.run')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='EventAngle',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('event', models.CharField(choices=[('injector', 'Injector'), ('cam', 'Cam sensor edge')], max_length=8)),
                ('cylinder', models.PositiveSmallIntegerField()),
                ('angle_deg', models.FloatField()),
                ('spread_deg', models.FloatField(null=True)),
                ('known_from', models.CharField(max_length=200, verbose_name='how it is known')),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('retired_at', models.DateTimeField(editable=False, null=True)),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('engine', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='engines.engine')),
                ('retired_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('run', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='traces.run')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Upload',
            fields=[
                ('token', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('name', models.CharField(max_length=200)),
                ('size_bytes', models.PositiveBigIntegerField()),
                ('received_bytes', models.PositiveBigIntegerField(default=0)),
                ('sha256', models.CharField(blank=True, max_length=64)),
                ('metadata', models.TextField(blank=True, editable=False)),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('touched_at', models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
                ('finished_at', models.DateTimeField(editable=False, null=True)),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.RunPython(put_on, take_off),
    ]
