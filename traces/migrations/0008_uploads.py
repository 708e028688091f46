from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('traces', '0007_form_tokens'),
    ]

    operations = [
        migrations.RenameModel(old_name='PartialUpload', new_name='Upload'),
        migrations.AddField(
            model_name='upload',
            name='metadata',
            field=models.TextField(blank=True, default='', editable=False),
            preserve_default=False,
        ),
    ]
