from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("clients", "0006_look_ahead")]

    operations = [
        migrations.AddField(
            model_name="ruleset",
            name="reviewed_what",
            field=models.CharField(blank=True, default="", max_length=300),
            preserve_default=False,
        ),
    ]
