import django.db.models.deletion
import django.utils.timezone
import jobs.models.timeline
from django.db import migrations, models

from shopdiag.people.append_only import guard, release

GUARDED = (
    "jobs_timelineevent",
    "jobs_codepaste",
    "jobs_note",
    "jobs_judgement",
    "jobs_cylinderfinding",
    "jobs_misfirecounts",
    "jobs_freezeframe",
    "jobs_numberingcheck",
    "jobs_swaptest",
    "jobs_repairconsent",
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
        ('jobs', '0001_initial'),
        ('jobs', '0002_append_only'),
        ('jobs', '0003_work_details'),
        ('jobs', '0004_signed_stays'),
        ('jobs', '0005_empty_lists'),
        ('jobs', '0006_set_aside'),
        ('jobs', '0007_order_patterns'),
        ('jobs', '0008_corrections_and_whole_engine'),
        ('jobs', '0009_corrections_stay'),
        ('jobs', '0010_numbering_checks'),
        ('jobs', '0011_order_by_id'),
        ('jobs', '0012_vehicle_fuel'),
        ('jobs', '0013_groups_swaps_and_counts'),
        ('jobs', '0014_tests_of_valves_and_coolant'),
        ('jobs', '0015_test_figures'),
        ('jobs', '0016_compression_test_labels'),
        ('jobs', '0017_repair_consent'),
        ('jobs', '0018_form_tokens'),
        ('jobs', '0019_trade_words'),
        ('jobs', '0020_capture_batches'),
        ('jobs', '0021_tests_beyond_compression'),
    ]

    dependencies = [
        ('engines', '0001_squashed'),
        ('people', '0001_squashed'),
        ('traces', '0001_squashed'),
    ]

    operations = [
        migrations.CreateModel(
            name='CodePaste',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('text', models.TextField(max_length=20000)),
                ('not_codes', models.JSONField(default=list, editable=False)),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Customer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('name', models.CharField(max_length=120, verbose_name='name')),
                ('phone', models.CharField(blank=True, max_length=40, verbose_name='phone')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='mail')),
                ('phone_key', models.CharField(blank=True, db_index=True, editable=False, max_length=40)),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
            ],
            options={
                'ordering': ['name', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Vehicle',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('plate', models.CharField(blank=True, max_length=16, verbose_name='plate')),
                ('plate_key', models.CharField(blank=True, db_index=True, editable=False, max_length=16)),
                ('vin', models.CharField(blank=True, db_index=True, max_length=20, verbose_name='VIN')),
                ('make', models.CharField(max_length=40, verbose_name='make')),
                ('model', models.CharField(max_length=60, verbose_name='model')),
                ('year', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='year')),
                ('engine_code', models.CharField(blank=True, max_length=40, verbose_name='engine code')),
                ('fuel', models.CharField(blank=True, choices=[('petrol', 'Petrol'), ('diesel', 'Diesel'), ('gas', 'Gas')], max_length=6, verbose_name='fuel')),
                ('drive', models.CharField(choices=[('starter', 'Cranked by a 12 V or 24 V starter'), ('belt', 'Belt starter-generator (mild hybrid)'), ('traction', 'Hybrid, cranked by its drive motor')], default='starter', max_length=10, verbose_name='how it is cranked')),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('customer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='vehicles', to='jobs.customer')),
                ('engine', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='engines.engine', verbose_name='engine')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Visit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('number', models.PositiveIntegerField(editable=False, verbose_name='job number')),
                ('stage', models.CharField(choices=[('intake', 'Intake'), ('triage', 'Triage'), ('test', 'Cranking test'), ('decide', 'Decide'), ('work', 'Work order'), ('verify', 'Repair and verify'), ('hand_back', 'Delivery'), ('closed', 'Closed')], db_index=True, default='intake', editable=False, max_length=12)),
                ('odometer', models.PositiveIntegerField(blank=True, null=True, verbose_name='odometer')),
                ('opened_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('closed_at', models.DateTimeField(editable=False, null=True)),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('opened_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('vehicle', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visits', to='jobs.vehicle')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='TroubleCode',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(db_index=True, max_length=10)),
                ('status', models.CharField(blank=True, choices=[('stored', 'Stored'), ('pending', 'Pending'), ('permanent', 'Permanent'), ('', 'Status not given')], max_length=10)),
                ('cylinder', models.PositiveSmallIntegerField(null=True)),
                ('line', models.CharField(blank=True, max_length=300)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('paste', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='codes', to='jobs.codepaste')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='codes', to='jobs.visit')),
            ],
            options={
                'ordering': ['code', 'status'],
            },
        ),
        migrations.CreateModel(
            name='Triage',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('verified', models.CharField(blank=True, choices=[('', 'Not tried'), ('yes', 'Yes, seen'), ('no', 'Could not duplicate')], max_length=4, verbose_name='complaint confirmed')),
                ('cranks', models.CharField(blank=True, choices=[('', 'Not checked'), ('even', 'Even'), ('uneven', 'Uneven'), ('slow', 'Slow'), ('fast', 'Fast'), ('no_crank', 'Does not crank')], max_length=8, verbose_name='cranking sound')),
                ('battery_v', models.FloatField(blank=True, null=True, verbose_name='battery at rest (V)')),
                ('remarks', models.TextField(blank=True, max_length=2000, verbose_name='remarks')),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('visit', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='triage', to='jobs.visit')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='TimelineEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('kind', models.CharField(max_length=30)),
                ('words', models.CharField(max_length=400)),
                ('data', models.JSONField(default=dict)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='events', to='jobs.visit')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='RepairConsent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('agreed', models.BooleanField(verbose_name='agreed to the repair')),
                ('said_by', models.CharField(max_length=120, verbose_name='who said it')),
                ('how', models.CharField(choices=[('person', 'In person'), ('phone', 'By phone'), ('written', 'In writing')], max_length=10, verbose_name='how')),
                ('amount', models.CharField(blank=True, max_length=60, verbose_name='up to which amount')),
                ('scope', models.CharField(blank=True, max_length=400, verbose_name='for which repair')),
                ('after_orders', models.PositiveSmallIntegerField(editable=False)),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='repair_consents', to='jobs.visit')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Outcome',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('cause', models.TextField(blank=True, max_length=2000, verbose_name='cause')),
                ('correction', models.TextField(blank=True, max_length=2000, verbose_name='correction')),
                ('verified', models.CharField(blank=True, choices=[('', 'Not yet'), ('yes', 'Repair holds'), ('no', 'Still the same'), ('declined', 'Not repaired (declined or elsewhere)')], max_length=10, verbose_name='verified')),
                ('verified_how', models.TextField(blank=True, max_length=1000, verbose_name='how it was verified')),
                ('drive', models.CharField(blank=True, max_length=200, verbose_name='drive over which misfires were counted')),
                ('misfires_before', models.PositiveIntegerField(blank=True, null=True, verbose_name='misfires on that drive before')),
                ('misfires_after', models.PositiveIntegerField(blank=True, null=True, verbose_name='misfires on that drive after')),
                ('told_customer', models.TextField(blank=True, max_length=2000, verbose_name='for the customer, in plain words')),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('visit', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='outcome', to='jobs.visit')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='NumberingCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('basis', models.CharField(choices=[('casting', 'Casting or plate on the engine'), ('data', "Manufacturer's data for this vehicle"), ('plug_lead', 'Number on the plug leads'), ('coil', 'Number on the coil connectors')], max_length=10, verbose_name='confirmed from')),
                ('direction', models.CharField(blank=True, choices=[('ahead', 'Lengthways, front end towards the radiator'), ('right', "Crossways, front end on the right, seen from the driver's seat"), ('left', "Crossways, front end on the left, seen from the driver's seat")], max_length=5, verbose_name='how the engine sits')),
                ('bank_a_side', models.CharField(blank=True, choices=[('left', "left side, seen from the driver's seat"), ('right', "right side, seen from the driver's seat"), ('radiator', 'radiator side'), ('bulkhead', 'bulkhead side')], max_length=8, verbose_name='bank A (bank 1) lies on the')),
                ('note', models.CharField(blank=True, max_length=200, verbose_name='note')),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='numbering_checks', to='jobs.visit')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Note',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('text', models.TextField(max_length=4000, verbose_name='note')),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='jobs.visit')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='MisfireCounts',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('counts', models.JSONField()),
                ('period', models.CharField(blank=True, max_length=80, verbose_name='counted over')),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('replaces', models.OneToOneField(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaced_by', to='jobs.misfirecounts')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='misfire_counts', to='jobs.visit')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Judgement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('accepted', 'Accepted'), ('overruled', 'Overruled'), ('without', 'Decided without a capture')], max_length=10)),
                ('mechanical', models.CharField(choices=[('yes', 'Compression fault'), ('no', 'No compression fault found'), ('unsure', 'Not settled')], max_length=6)),
                ('fault_group', models.CharField(blank=True, choices=[('compression', 'Compression fault'), ('ignition', 'Ignition'), ('fuel', 'Fuel'), ('air', 'Air'), ('exhaust', 'Exhaust'), ('electrical', 'Electrical'), ('valve_train', 'Valve train'), ('unsettled', 'Not settled')], max_length=12, verbose_name='where the fault lies')),
                ('cylinders', models.JSONField(blank=True, default=list)),
                ('reason', models.TextField(blank=True, max_length=2000, verbose_name='in your own words')),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('run', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='judgements', to='traces.run')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='judgements', to='jobs.visit')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='FreezeFrame',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(blank=True, max_length=10, verbose_name='for code')),
                ('rows', models.JSONField()),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('replaces', models.OneToOneField(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaced_by', to='jobs.freezeframe')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='freeze_frames', to='jobs.visit')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Complaint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('words', models.TextField(max_length=4000, verbose_name="complaint, in the customer's words")),
                ('happens', models.JSONField(blank=True, default=list, verbose_name='when it happens')),
                ('happens_note', models.CharField(blank=True, max_length=300, verbose_name='more about when')),
                ('happened_on', models.DateField(blank=True, null=True, verbose_name='first noticed')),
                ('warning_lights', models.JSONField(blank=True, default=list, verbose_name='warning lights')),
                ('recent_work', models.TextField(blank=True, max_length=2000, verbose_name='recent work')),
                ('authorised_minutes', models.PositiveIntegerField(blank=True, null=True, verbose_name='authorised diagnosis time (minutes)')),
                ('authorised_amount', models.CharField(blank=True, max_length=40, verbose_name='authorised amount')),
                ('authorised_by', models.CharField(blank=True, max_length=120, verbose_name='authorised by')),
                ('authorised_how', models.CharField(blank=True, choices=[('', 'Not yet'), ('person', 'In person'), ('phone', 'By phone'), ('written', 'In writing')], max_length=8, verbose_name='how')),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('visit', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='complaint', to='jobs.visit')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='codepaste',
            name='visit',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='code_pastes', to='jobs.visit'),
        ),
        migrations.CreateModel(
            name='VisitCapture',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('purpose', models.CharField(choices=[('diagnosis', 'Diagnosis'), ('verification', 'After the repair')], default='diagnosis', max_length=12)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('batch', models.UUIDField(editable=False, null=True)),
                ('aside_why', models.CharField(blank=True, max_length=300, verbose_name='why it is set aside')),
                ('capture', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='visit_capture', to='traces.capture')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visit_captures', to='jobs.visit')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='WorkOrder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('state', models.CharField(choices=[('open', 'Open'), ('accepted', 'Accepted'), ('done', 'Done'), ('withdrawn', 'Withdrawn')], db_index=True, default='open', editable=False, max_length=10)),
                ('request', models.CharField(max_length=200, verbose_name='request, in one line')),
                ('cylinders', models.JSONField(blank=True, default=list)),
                ('places', models.JSONField(blank=True, default=list)),
                ('firing_order', models.CharField(blank=True, max_length=60)),
                ('firing_source', models.CharField(blank=True, max_length=300)),
                ('tests_done', models.JSONField(blank=True, default=list)),
                ('tests', models.JSONField(blank=True, default=list)),
                ('patterns', models.JSONField(blank=True, default=list)),
                ('cautions', models.JSONField(blank=True, default=list)),
                ('sync_proof', models.TextField(blank=True)),
                ('confidence', models.TextField(blank=True)),
                ('disproof', models.TextField(blank=True, verbose_name='what would rule it out')),
                ('gauge_rule', models.JSONField(blank=True, default=dict)),
                ('scope', models.TextField(blank=True, max_length=1000, verbose_name='authorised scope')),
                ('scope_minutes', models.PositiveIntegerField(blank=True, null=True, verbose_name='authorised time (minutes)')),
                ('stop_and_call', models.CharField(blank=True, max_length=300, verbose_name='stop and call when')),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('accepted_at', models.DateTimeField(editable=False, null=True)),
                ('completed_at', models.DateTimeField(editable=False, null=True)),
                ('withdrawn_at', models.DateTimeField(editable=False, null=True)),
                ('withdrawn_why', models.CharField(blank=True, max_length=400, verbose_name='why withdrawn')),
                ('left_out', models.CharField(blank=True, max_length=400, verbose_name='why wanted tests were left out')),
                ('summary', models.TextField(blank=True, max_length=2000, verbose_name='what was found, in short')),
                ('accepted_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('assigned_to', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member', verbose_name='for')),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('created_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('judgement', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='work_order', to='jobs.judgement')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='work_orders', to='jobs.visit')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='SwapTest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('part', models.CharField(choices=[('coil', 'Coil'), ('plug', 'Plug'), ('injector', 'Injector')], max_length=8, verbose_name='part')),
                ('from_cylinder', models.PositiveSmallIntegerField(verbose_name='from cylinder')),
                ('to_cylinder', models.PositiveSmallIntegerField(verbose_name='to cylinder')),
                ('followed', models.CharField(choices=[('yes', 'Yes, it followed the part'), ('no', 'No, it stayed on its cylinder'), ('changed', 'It changed')], max_length=7, verbose_name='did the misfire follow')),
                ('counts_before', models.JSONField(blank=True, default=dict)),
                ('counts_after', models.JSONField(blank=True, default=dict)),
                ('words', models.CharField(blank=True, max_length=400, verbose_name='what else was seen')),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('work_order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='swaps', to='jobs.workorder')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('cylinder', models.PositiveSmallIntegerField(null=True)),
                ('image', models.FileField(max_length=200, upload_to=jobs.models.timeline.photo_path)),
                ('caption', models.CharField(blank=True, max_length=200, verbose_name='what it shows')),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='jobs.visit')),
                ('work_order', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='jobs.workorder')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='CylinderFinding',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('cylinder', models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='cylinder')),
                ('test', models.CharField(choices=[('gauge_dry', 'Compression test, dry'), ('gauge_wet', 'Compression test, wet'), ('leak_down', 'Leak-down'), ('borescope', 'Borescope'), ('running', 'Running compression'), ('sync', 'Sync check'), ('bind', 'Engine barred over'), ('timing', 'Cam timing'), ('cam_trace', 'Cam, crank trace'), ('repeat', 'Repeated capture'), ('wash', 'Fuel-washed bores'), ('coolant', 'Coolant, gas test'), ('seats', 'Plug, injector seats'), ('valves', 'Valve clearance and lift'), ('vacuum', 'Vacuum'), ('exhaust', 'Back pressure'), ('counts', 'Misfire counts'), ('plugs', 'Plugs'), ('coil', 'Coil'), ('injector', 'Injector'), ('fuel_press', 'Fuel pressure'), ('trims', 'Fuel trims'), ('wiring', 'Supply and ground'), ('cut_out', 'Cut-out'), ('other', 'Other')], max_length=10, verbose_name='test')),
                ('outcome', models.CharField(choices=[('good', 'Good'), ('bad', 'Bad'), ('ambiguous', 'Ambiguous'), ('not_done', 'Not done')], max_length=10, verbose_name='outcome')),
                ('first_puff_kpa', models.FloatField(editable=False, null=True)),
                ('pressure_kpa', models.FloatField(editable=False, null=True)),
                ('leak_percent', models.FloatField(blank=True, null=True, verbose_name='leakage (%)')),
                ('supply_kpa', models.FloatField(blank=True, null=True, verbose_name='supply pressure')),
                ('orifice_mm', models.FloatField(blank=True, null=True, verbose_name='orifice of the tester (mm)')),
                ('at_tdc', models.BooleanField(blank=True, null=True, verbose_name='at compression top dead centre')),
                ('is_warm', models.BooleanField(blank=True, null=True, verbose_name='engine warm')),
                ('oil_ml', models.FloatField(blank=True, null=True, verbose_name='oil (ml)')),
                ('swept_ml', models.FloatField(blank=True, null=True, verbose_name='swept volume of the cylinder (ml)')),
                ('idle_kpa', models.FloatField(blank=True, null=True, verbose_name='running, at idle')),
                ('snap_kpa', models.FloatField(blank=True, null=True, verbose_name='running, on a snap of the throttle')),
                ('heard_at', models.CharField(blank=True, choices=[('', '–'), ('intake', 'Intake'), ('exhaust', 'Exhaust'), ('crankcase', 'Oil filler'), ('coolant', 'Coolant'), ('neighbour', 'Next cylinder')], max_length=10, verbose_name='air escaping at')),
                ('conditions', models.CharField(blank=True, max_length=200, verbose_name='how it was done')),
                ('words', models.TextField(blank=True, max_length=1000, verbose_name='what was found')),
                ('form_token', models.UUIDField(editable=False, null=True, unique=True)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('replaces', models.OneToOneField(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaced_by', to='jobs.cylinderfinding')),
                ('work_order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='findings', to='jobs.workorder')),
            ],
            options={
                'ordering': [models.OrderBy(models.F('cylinder'), nulls_first=True), 'pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='visit',
            constraint=models.UniqueConstraint(fields=('shop', 'number'), name='visit_number_per_shop'),
        ),
        migrations.AddConstraint(
            model_name='troublecode',
            constraint=models.UniqueConstraint(fields=('visit', 'code', 'status'), name='code_once_per_visit_and_status'),
        ),
        migrations.AddConstraint(
            model_name='judgement',
            constraint=models.CheckConstraint(condition=models.Q(('kind', 'accepted'), models.Q(('reason', ''), _negated=True), _connector='OR'), name='overruling_needs_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='swaptest',
            constraint=models.CheckConstraint(condition=models.Q(('from_cylinder', models.F('to_cylinder')), _negated=True), name='swap_between_two_cylinders'),
        ),
        migrations.RunPython(put_on, take_off),
    ]
