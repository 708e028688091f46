import django.db.models.deletion
from django.db import migrations, models

from shopdiag.people.append_only import guard, release

CONSENTS = "jobs_repairconsent"
"""Its lines are added and never changed."""


def fill(apps, schema_editor):
    """Write down once what was read from times before."""
    consents = apps.get_model("jobs", "RepairConsent")
    judgements = apps.get_model("jobs", "Judgement")
    orders = apps.get_model("jobs", "WorkOrder")
    release(schema_editor, CONSENTS)
    for said in consents.objects.all():
        then = judgements.objects.filter(visit_id=said.visit_id, at__lte=said.at)
        said.judgement = then.order_by("-pk").first()
        said.save(update_fields=["judgement"])
    if schema_editor.connection.vendor == "postgresql":
        # a table whose rows still wait for their checks takes no trigger
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    guard(schema_editor, CONSENTS)
    for order in orders.objects.all():
        before = consents.objects.filter(visit_id=order.visit_id, at__lte=order.created_at)
        order.last_answer = before.order_by("-pk").first()
        order.save(update_fields=["last_answer"])


class Migration(migrations.Migration):

    dependencies = [
        ("jobs", "0001_squashed"),
    ]

    operations = [
        migrations.AlterField(
            model_name="workorder",
            name="judgement",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="work_orders",
                to="jobs.judgement",
            ),
        ),
        migrations.AddField(
            model_name="workorder",
            name="last_answer",
            field=models.ForeignKey(
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="jobs.repairconsent",
            ),
        ),
        migrations.AddField(
            model_name="repairconsent",
            name="judgement",
            field=models.ForeignKey(
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="jobs.judgement",
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
