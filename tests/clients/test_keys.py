"""The key of the house is changed while people work: nothing is lost on the way, and no word is sealed anew."""

import json
import secrets

import pytest
from django.core.management import CommandError, call_command

from clients import models
from clients.actions import keys, seals
from clients.rules.sealing import SealBroken
from studio import keys as house_keys
from tests import make_clients

pytestmark = pytest.mark.django_db
NAMES = ("Ruvena Tarnelow", "Oswin Threll", "Tovelin Hagsund", "Noorin Qazimbar", "Ysolde Marrabin")


@pytest.fixture
def clients():
    return [make_clients.client(name) for name in NAMES]


def change_key(settings) -> None:
    settings.HEALTH_KEYS_BEFORE = [settings.HEALTH_KEY]
    settings.HEALTH_KEY = secrets.token_bytes(32)


def test_words_sealed_before_the_change_open_during_it_and_after_it(clients, settings):
    blob = seals.sealed_file(b"before", row=clients[0], client=clients[0])
    change_key(settings)
    assert seals.opened_file(blob, row=clients[0], client=clients[0]) == b"before"
    call_command("rotate_health_key")
    settings.HEALTH_KEYS_BEFORE = []
    kept = models.Client.objects.get(pk=clients[0].pk)
    assert seals.opened_file(blob, row=kept, client=kept) == b"before"
    with pytest.raises(SealBroken):
        seals.opened_file(blob, row=clients[0], client=clients[0])


def test_a_client_added_during_the_change_has_her_key_under_the_new_one(clients, settings):
    change_key(settings)
    make_clients.client("Orsolin Teague")
    counts = keys.rewrap_some(keys.Rewrapped())
    assert (counts.anew, counts.already, counts.is_whole) == (5, 1, True)


def test_stopped_after_any_batch_it_goes_on_where_it_was(clients, settings):
    change_key(settings)
    keys.rewrap_some(keys.Rewrapped(), batch=2)
    assert keys.behind() == 3
    again, rounds = keys.Rewrapped(), 0
    while not again.is_whole:
        keys.rewrap_some(again, batch=2)
        rounds += 1
    assert (again.anew, again.already, rounds, keys.behind()) == (3, 2, 3, 0)


def test_a_second_run_changes_nothing(clients, settings):
    change_key(settings)
    call_command("rotate_health_key")
    then = list(models.Client.objects.order_by("pk").values_list("wrapped_key", flat=True))
    call_command("rotate_health_key")
    assert list(models.Client.objects.order_by("pk").values_list("wrapped_key", flat=True)) == then


def test_with_a_wrong_key_before_nothing_changes_and_the_clients_are_named(clients, settings, capsys):
    then = dict(models.Client.objects.values_list("pk", "wrapped_key"))
    settings.HEALTH_KEY, settings.HEALTH_KEYS_BEFORE = secrets.token_bytes(32), [secrets.token_bytes(32)]
    with pytest.raises(CommandError, match="5 stay as they were"):
        call_command("rotate_health_key")
    assert dict(models.Client.objects.values_list("pk", "wrapped_key")) == then
    assert all(str(client.pk) in capsys.readouterr().err for client in clients[:1])


def test_one_broken_key_does_not_keep_the_others_from_being_changed(clients, settings):
    models.Client.objects.filter(pk=clients[2].pk).update(wrapped_key=secrets.token_bytes(65))
    change_key(settings)
    with pytest.raises(CommandError, match="1 stay as they were"):
        call_command("rotate_health_key")
    assert keys.behind() == 1


def test_a_house_machine_keeps_both_keys_until_none_is_needed(tmp_path):
    path = tmp_path / "keys.json"
    first = house_keys.kept_in(path)
    house_keys.change_health_key(path)
    during = house_keys.kept_in(path)
    assert during.health_keys_before == [first.health_key] != [during.health_key]
    assert during.secret_key == first.secret_key
    assert path.stat().st_mode & 0o777 == 0o600
    with pytest.raises(ValueError, match="finish that change first"):
        house_keys.change_health_key(path)
    house_keys.forget_health_key_before(path)
    assert house_keys.kept_in(path).health_keys_before == []
    assert json.loads(path.read_text()).keys() == {"secret_key", "health_key"}


def test_the_key_before_is_not_forgotten_while_it_is_needed(clients, settings):
    change_key(settings)
    with pytest.raises(CommandError, match="5 clients' keys are still wrapped"):
        call_command("rotate_health_key", forget=True)


def test_a_production_start_takes_the_key_before_and_refuses_a_placeholder():
    good = "3q2-7wABAgMEBQYHCAkKCwwNDg8QERITFBUWFxgZGhs="
    environment = {"SECRET_KEY": "q7Zr-" * 4 + "wX9tLmB2sVdKpEyUaRnHgCfJ4o6iT8", "ALLOWED_HOSTS": "studio.example"}
    found = house_keys.from_environment(environment | {"HEALTH_KEY": good, "HEALTH_KEY_BEFORE": good})
    assert found.health_keys_before == [found.health_key]
    assert house_keys.from_environment(environment | {"HEALTH_KEY": good}).health_keys_before == []
    with pytest.raises(Exception, match="HEALTH_KEY_BEFORE must be 32 random bytes"):
        house_keys.from_environment(environment | {"HEALTH_KEY": good, "HEALTH_KEY_BEFORE": "AAAA"})
