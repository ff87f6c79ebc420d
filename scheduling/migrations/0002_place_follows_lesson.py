from django.db import migrations

# A place carries its lesson's span and liveness: the composite key moves them together in one update, or refuses.
FORWARD = """
ALTER TABLE scheduling_lesson ADD CONSTRAINT scheduling_lesson_span_and_life UNIQUE (id, during, live);
ALTER TABLE scheduling_place ADD CONSTRAINT scheduling_place_follows_lesson
    FOREIGN KEY (lesson_id, during, live) REFERENCES scheduling_lesson (id, during, live) ON UPDATE CASCADE;
CREATE INDEX scheduling_lesson_starts ON scheduling_lesson (lower(during), upper(during));
CREATE INDEX scheduling_place_starts ON scheduling_place (lower(during), upper(during));
ALTER TABLE scheduling_lesson ADD CONSTRAINT scheduling_lesson_length
    CHECK (upper(during) - lower(during) BETWEEN interval '5 minutes' AND interval '4 hours');
"""
BACK = """
ALTER TABLE scheduling_lesson DROP CONSTRAINT scheduling_lesson_length;
DROP INDEX scheduling_place_starts;
DROP INDEX scheduling_lesson_starts;
ALTER TABLE scheduling_place DROP CONSTRAINT scheduling_place_follows_lesson;
ALTER TABLE scheduling_lesson DROP CONSTRAINT scheduling_lesson_span_and_life;
"""


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0001_start")]

    operations = [migrations.RunSQL(FORWARD, BACK)]
