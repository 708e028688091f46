import django.contrib.auth.models
import django.contrib.auth.validators
import django.core.validators
import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    replaces = [
        ('people', '0001_initial'),
        ('people', '0002_shared_by_owners'),
        ('people', '0003_currency'),
        ('people', '0004_altitude'),
        ('people', '0005_bank_limit'),
        ('people', '0006_form_tokens'),
    ]

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, unique=True, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('name', models.CharField(max_length=120, verbose_name='name')),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'verbose_name': 'user',
                'verbose_name_plural': 'users',
                'abstract': False,
            },
            managers=[
                ('objects', django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name='Member',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('role', models.CharField(choices=[('diagnostician', 'Diagnostician'), ('mechanic', 'Mechanic'), ('writer', 'Service writer'), ('owner', 'Owner')], max_length=16, verbose_name='role')),
                ('active', models.BooleanField(default=True, verbose_name='active')),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='memberships', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='ApiToken',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('label', models.CharField(max_length=80, verbose_name='what it is for')),
                ('digest', models.CharField(editable=False, max_length=64, unique=True)),
                ('form_token', models.UUIDField(editable=False, null=True)),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('last_used_at', models.DateTimeField(editable=False, null=True)),
                ('revoked_at', models.DateTimeField(editable=False, null=True)),
                ('member', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='api_tokens', to='people.member')),
                ('revoked_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
            ],
        ),
        migrations.CreateModel(
            name='Shop',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('name', models.CharField(max_length=120, verbose_name='shop name')),
                ('address', models.TextField(blank=True, max_length=500, verbose_name='address')),
                ('phone', models.CharField(blank=True, max_length=40, verbose_name='phone')),
                ('time_zone', models.CharField(default='UTC', max_length=64, verbose_name='time zone')),
                ('pressure_unit', models.CharField(choices=[('kPa', 'kPa'), ('bar', 'bar'), ('psi', 'psi')], default='kPa', max_length=4, verbose_name='pressure in')),
                ('distance_unit', models.CharField(choices=[('km', 'km'), ('mi', 'miles')], default='km', max_length=2, verbose_name='distance in')),
                ('currency', models.CharField(default='EUR', max_length=3, validators=[django.core.validators.RegexValidator('^[A-Za-z]{3}\\Z', 'Type the three letters of ISO 4217, such as EUR or USD.')], verbose_name='amounts in')),
                ('suspect_below', models.FloatField(default=0.8, validators=[django.core.validators.MinValueValidator(0.3), django.core.validators.MaxValueValidator(1.0)], verbose_name='suspect below')),
                ('watch_below', models.FloatField(default=0.88, validators=[django.core.validators.MinValueValidator(0.3), django.core.validators.MaxValueValidator(1.0)], verbose_name='watch below')),
                ('bank_even_within', models.FloatField(default=0.055, validators=[django.core.validators.MinValueValidator(0.02), django.core.validators.MaxValueValidator(0.3)], verbose_name='banks uneven from')),
                ('altitude_m', models.PositiveIntegerField(default=0, validators=[django.core.validators.MaxValueValidator(5000)], verbose_name='altitude above the sea (m)')),
                ('created_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('changed_by', models.ForeignKey(editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='people.member')),
            ],
        ),
        migrations.AddField(
            model_name='member',
            name='shop',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='members', to='people.shop'),
        ),
        migrations.AddConstraint(
            model_name='shop',
            constraint=models.CheckConstraint(condition=models.Q(('suspect_below__lte', models.F('watch_below'))), name='shop_limits_rise', violation_error_message='“Suspect below” must not be above “watch below”.'),
        ),
        migrations.AddConstraint(
            model_name='member',
            constraint=models.UniqueConstraint(fields=('user', 'shop'), name='member_once_per_shop'),
        ),
    ]
