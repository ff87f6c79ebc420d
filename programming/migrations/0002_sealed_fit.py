"""Room for what fitting did to a program, sealed with the client's key."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("programming", "0001_start"), ("clients", "0004_seal_findings")]

    operations = [migrations.AddField("program", "sealed_fit", models.BinaryField(null=True))]
