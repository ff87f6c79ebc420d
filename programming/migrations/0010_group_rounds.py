from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("programming", "0009_decided_templates")]

    operations = [
        migrations.AddField("groupplan", "one_voice", models.BooleanField(default=False)),
        migrations.AddField("groupplan", "rounds", models.JSONField(default=list)),
    ]
