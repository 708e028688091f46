import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    replaces = [
        ('engines', '0001_initial'),
        ('engines', '0002_bank_access'),
        ('engines', '0003_access_tokens'),
    ]

    dependencies = [
        ('people', '0001_squashed'),
    ]

    operations = [
        migrations.CreateModel(
            name='Engine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('key', models.SlugField(editable=False, max_length=60, null=True, unique=True)),
                ('name', models.CharField(max_length=120, verbose_name='name')),
                ('layout', models.CharField(choices=[('I1', 'Single cylinder'), ('I2', 'Inline twin'), ('I3', 'Inline three'), ('I4', 'Inline four'), ('I5', 'Inline five'), ('I6', 'Inline six'), ('I8', 'Inline eight'), ('F2', 'Flat twin'), ('F4', 'Flat four'), ('F6', 'Flat six'), ('V2', 'V twin'), ('V4', 'V4'), ('V6', 'V6'), ('V6-odd', 'V6, odd-fire'), ('V8', 'V8'), ('V10', 'V10'), ('V10-odd', 'V10, odd-fire'), ('V12', 'V12'), ('other', 'Another layout')], max_length=12, verbose_name='layout')),
                ('firing_order', models.CharField(max_length=60, verbose_name='firing order')),
                ('cylinders', models.PositiveSmallIntegerField(editable=False, verbose_name='cylinders')),
                ('tdc_angles', models.JSONField(blank=True, null=True, verbose_name='firing angles')),
                ('positions', models.JSONField(blank=True, default=list, verbose_name='where the cylinders sit')),
                ('numbering', models.CharField(blank=True, max_length=300, verbose_name='how the cylinders are numbered')),
                ('fuel', models.CharField(choices=[('petrol', 'Petrol'), ('diesel', 'Diesel')], default='petrol', max_length=6, verbose_name='fuel')),
                ('source', models.CharField(max_length=300, verbose_name='where the firing order comes from')),
                ('retired', models.BooleanField(default=False, editable=False, verbose_name='retired')),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('created_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
            ],
            options={
                'ordering': ['cylinders', 'layout', 'name', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='BankAccess',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('bank', models.CharField(blank=True, max_length=2, verbose_name='bank')),
                ('minutes', models.PositiveSmallIntegerField(verbose_name='minutes')),
                ('note', models.CharField(blank=True, max_length=200, verbose_name='what is in the way')),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('created_by', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('shop', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.shop')),
                ('engine', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='engines.engine')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='engine',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('key__isnull', False), ('shop', None)), models.Q(('key', None), ('shop__isnull', False)), _connector='OR'), name='engine_of_library_or_shop'),
        ),
        migrations.AddConstraint(
            model_name='engine',
            constraint=models.UniqueConstraint(condition=models.Q(('retired', False), ('shop__isnull', False)), fields=('shop', 'name'), name='engine_name_once_per_shop', violation_error_message='Your shop already has an engine of this name; choose another name.'),
        ),
    ]
