"""What is remembered of deliveries is a site's own: several sites may share a store."""

from contextlib import closing
from functools import partial
from pathlib import Path

from fermwatch.clock import to_ms
from fermwatch.store.sqlite import schema
from fermwatch.store.sqlite.connection import connect_writer, transact
from fermwatch.store.sqlite.deliveries import REMEMBERED, Deliveries
from tests.support.samples import NOW, PROBES, VESSELS, reading
from tests.support.stores import open_writer


def test_what_one_site_hears_another_neither_knows_nor_forgets(tmp_path: Path) -> None:
    file = tmp_path / "shared.db"
    with closing(connect_writer(file)) as connection:
        schema.upgrade(connection, file)
        home, shed = Deliveries(connection, "home"), Deliveries(connection, "shed")
        for site, count in ((home, 1), (shed, REMEMBERED), (shed, 1)):
            heard = site.sift([reading(n, message_id=n) for n in range(count)])[1]
            transact(connection, partial(site.write, heard=heard, new_sessions={1}))
            site.committed(heard, {1})
        again = [reading(5, message_id=0, redelivered=True)]
        for each in (home, Deliveries(connection, "home")):
            assert each.sift(again)[0] == []
        assert Deliveries(connection, "attic").sift(again)[0] == again


def test_a_store_from_before_goes_on_knowing_what_was_delivered(tmp_path: Path) -> None:
    file = tmp_path / "home.db"
    with closing(connect_writer(file)) as connection:
        schema.upgrade(connection, file, schema.migrations()[:3])
        connection.execute("INSERT INTO site VALUES ('home', 'UTC', 0)")
        connection.execute("INSERT INTO series VALUES (1, 'home', 'left-beer', 'beer-temperature', 0, 1, '{}')")
        connection.execute("INSERT INTO delivery VALUES (7, 1, 0, 9, 20.0, ?)", (to_ms(NOW),))
    with open_writer(tmp_path, "home", NOW) as writer:
        writer.declare("UTC", VESSELS, PROBES, NOW)
        assert writer.append([reading(3, message_id=9, redelivered=True)]).duplicates == 1
        assert writer.append([reading(4, message_id=10)]).stored == 1
