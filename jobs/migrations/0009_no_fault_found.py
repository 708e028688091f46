"""A verdict may say that no fault was found."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0008_agreed_minutes_and_rates'),
    ]

    operations = [
        migrations.AlterField(
            model_name='judgement',
            name='fault_group',
            field=models.CharField(blank=True, choices=[('compression', 'Compression fault'), ('ignition', 'Ignition'), ('fuel', 'Fuel'), ('air', 'Air'), ('exhaust', 'Exhaust'), ('electrical', 'Electrical'), ('valve_train', 'Valve train'), ('unsettled', 'Not settled'), ('none_found', 'No fault found')], max_length=12, verbose_name='where the fault lies'),
        ),
    ]
