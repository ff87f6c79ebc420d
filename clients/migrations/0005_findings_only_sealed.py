from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("clients", "0004_seal_findings")]

    operations = [
        migrations.RemoveConstraint(
            model_name='conditionrecord',
            name='clients_conditionrecord_once',
        ),
        migrations.RemoveField(
            model_name='limit',
            name='client',
        ),
        migrations.RemoveField(
            model_name='limit',
            name='demand',
        ),
        migrations.RemoveField(
            model_name='limit',
            name='screening',
        ),
        migrations.RemoveField(
            model_name='conditionrecord',
            name='condition',
        ),
        migrations.RemoveField(
            model_name='conditionrecord',
            name='side',
        ),
        migrations.RemoveField(
            model_name='conditionrecord',
            name='since',
        ),
        migrations.DeleteModel(
            name='Limit',
        ),
        migrations.AddConstraint(
            model_name='conditionrecord',
            constraint=models.UniqueConstraint(models.F('client'), models.F('mark'), condition=models.Q(('state', 'active')), name='clients_conditionrecord_once'),
        ),
    ]
