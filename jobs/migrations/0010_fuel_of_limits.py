"""A shop's limit holds for engines of one fuel."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0009_no_fault_found'),
    ]

    operations = [
        migrations.AddField(
            model_name='figurelimit',
            name='fuel',
            field=models.CharField(editable=False, max_length=6, null=True),
        ),
    ]
