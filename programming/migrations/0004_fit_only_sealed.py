"""The plain columns go: what was changed for a body, and why, stands only in the sealed one."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("programming", "0003_seal_fits")]

    operations = [
        migrations.RemoveField("programline", "changed_to"),
        migrations.RemoveField("programline", "why"),
        migrations.RemoveField("programline", "demands"),
    ]
