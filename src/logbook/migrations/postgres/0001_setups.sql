-- Layout 1: setups, what happened in each, and the raw samples behind it.
--
-- What is looked for has a column of its own. Beside the columns stands the whole typed thing as JSON, which is what
-- the program reads back; the columns are never the only place of anything. Times are microseconds since 1970 in UTC.

-- The same tables as in a file.
--
-- One row: how many setups were ever begun here. Counting up in the transaction that adds the setup is what keeps two
-- programs from giving the same number twice.
CREATE TABLE counters (
    only_row BIGINT NOT NULL PRIMARY KEY CHECK (only_row = 1),
    setups   BIGINT NOT NULL
);

INSERT INTO counters (only_row, setups) VALUES (1, 0);

-- A measured setup. `uid` is the same in every logbook that holds a copy of it; `number` is this logbook's own.
-- `entries` and `captures` count what is below, so that a list of setups reads nothing else.
CREATE TABLE setups (
    number      BIGINT NOT NULL PRIMARY KEY,
    uid         TEXT    NOT NULL CONSTRAINT setup_kept_once UNIQUE,
    head        TEXT    NOT NULL,
    reason      TEXT    NOT NULL,
    begun_at    BIGINT NOT NULL,
    changed_at  BIGINT NOT NULL,
    closed_at   BIGINT,
    entries     BIGINT NOT NULL DEFAULT 0,
    captures    BIGINT NOT NULL DEFAULT 0,
    document    TEXT    NOT NULL
);

-- The history of one head.
CREATE INDEX setups_of_head ON setups (head, number);

-- The setup that commands work on is the newest of the few that are open.
CREATE INDEX setups_open ON setups (number) WHERE closed_at IS NULL;

-- What happened in a setup, numbered from 1 without a gap in the order in which it was recorded. An entry is never
-- changed and never removed: a capture that is redone is another entry.
CREATE TABLE entries (
    setup       BIGINT NOT NULL REFERENCES setups (number),
    number      BIGINT NOT NULL,
    uid         TEXT    NOT NULL CONSTRAINT entry_kept_once UNIQUE,
    kind        TEXT    NOT NULL,
    recorded_at BIGINT NOT NULL,
    document    TEXT    NOT NULL,
    PRIMARY KEY (setup, number)
);

-- The raw samples of an entry, apart from it so that reading a setup does not read them. The layout of the bytes
-- begins with its own version.
CREATE TABLE raw_samples (
    setup   BIGINT NOT NULL,
    entry   BIGINT NOT NULL,
    samples BYTEA   NOT NULL,
    PRIMARY KEY (setup, entry),
    FOREIGN KEY (setup, entry) REFERENCES entries (setup, number)
);

-- What the user wants used when nothing is said: the sensor, its profile, its calibration.
CREATE TABLE saved_defaults (
    name  TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
);
