"""The table of all stations' log books in PostgreSQL, and what guards it."""

from __future__ import annotations

MISSING = "SELECT to_regclass('neckring_entry') IS NULL"
STATIONS = "SELECT DISTINCT station FROM neckring_entry ORDER BY station"
ONE_MAKES_IT = 0x4E4B4C42
"""Of the lock under which the table is made, so that two first consoles do not both make it."""

SCHEMA_SQL = (
    f"SELECT pg_advisory_xact_lock({ONE_MAKES_IT})",
    """CREATE TABLE IF NOT EXISTS neckring_entry (
        station text NOT NULL,
        number bigint NOT NULL,
        key text NOT NULL,
        text text NOT NULL,
        previous text NOT NULL,
        digest text NOT NULL,
        PRIMARY KEY (station, number),
        UNIQUE (station, key)
    )""",
    """CREATE OR REPLACE FUNCTION neckring_entry_stays() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'an entry of a log book is never changed or deleted'; END $$""",
    """CREATE OR REPLACE FUNCTION neckring_entry_follows() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE last record;
    BEGIN
        SELECT number, digest INTO last FROM neckring_entry
            WHERE station = NEW.station ORDER BY number DESC LIMIT 1;
        IF NEW.number <> coalesce(last.number, 0) + 1
           OR NEW.previous <> coalesce(last.digest, NEW.previous) THEN
            RAISE EXCEPTION 'an entry of a log book stands behind the last, once';
        END IF;
        RETURN NEW;
    END $$""",
    """CREATE OR REPLACE TRIGGER entry_stays BEFORE UPDATE OR DELETE ON neckring_entry
    FOR EACH ROW EXECUTE FUNCTION neckring_entry_stays()""",
    """CREATE OR REPLACE TRIGGER entry_is_kept BEFORE TRUNCATE ON neckring_entry
    FOR EACH STATEMENT EXECUTE FUNCTION neckring_entry_stays()""",
    """CREATE OR REPLACE TRIGGER entry_follows BEFORE INSERT ON neckring_entry
    FOR EACH ROW EXECUTE FUNCTION neckring_entry_follows()""",
)
