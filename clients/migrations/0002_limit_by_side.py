from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("clients", "0001_start"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="limit",
            name="clients_limit_once",
        ),
        migrations.AddConstraint(
            model_name="limit",
            constraint=models.UniqueConstraint(
                models.F("screening"), models.F("demand"), models.F("side"), name="clients_limit_once"
            ),
        ),
    ]
