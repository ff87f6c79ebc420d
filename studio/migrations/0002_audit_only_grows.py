from django.db import migrations

FORWARD = """
CREATE FUNCTION studio_audit_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'audit rows are only ever added' USING ERRCODE = 'insufficient_privilege';
END $$;
CREATE TRIGGER studio_auditentry_only_grows BEFORE UPDATE OR DELETE ON studio_auditentry
    FOR EACH ROW EXECUTE FUNCTION studio_audit_only_grows();
"""
BACK = """
DROP TRIGGER studio_auditentry_only_grows ON studio_auditentry;
DROP FUNCTION studio_audit_only_grows();
"""


class Migration(migrations.Migration):
    dependencies = [("studio", "0001_start")]

    operations = [migrations.RunSQL(FORWARD, BACK)]
