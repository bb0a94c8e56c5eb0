"""The released schema steps in SQLite's SQL, frozen: registers of older versions were made by these very texts.

They are raw SQL, because a step must never change again, whatever becomes of the models. A new step is added at the
end, here and in `in_postgres`: it may add or drop tables, columns and indexes, never touches entries, and names
no derived table that a model defines.
"""

TRIGGERS = (
    """CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
        BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END""",
    """CREATE TRIGGER entry_is_never_removed BEFORE DELETE ON entry
        BEGIN SELECT RAISE(ABORT, 'entries are never removed'); END""",
    """CREATE TRIGGER entry_is_never_replaced BEFORE INSERT ON entry
        WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id OR number = NEW.number
                     OR (terminal = NEW.terminal AND place = NEW.place))
        BEGIN SELECT RAISE(ABORT, 'entries are never replaced'); END""",
)
"""What refuses to change, remove or replace an entry. No model can say this."""

FIRST = (
    """CREATE TABLE about (
        name TEXT PRIMARY KEY NOT NULL,
        value TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE entry (
        number INTEGER PRIMARY KEY,
        id TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        machine TEXT,
        happened INTEGER NOT NULL,
        recorded INTEGER NOT NULL,
        terminal TEXT NOT NULL,
        person TEXT NOT NULL,
        refers TEXT,
        body TEXT NOT NULL,
        place INTEGER NOT NULL,
        digest TEXT NOT NULL,
        CONSTRAINT one_chain_a_terminal UNIQUE (terminal, place)
    ) STRICT""",
    "CREATE INDEX entry_of_machine ON entry (machine, happened)",
    "CREATE INDEX entry_refers ON entry (refers) WHERE refers IS NOT NULL",
    "CREATE INDEX entry_for_all ON entry (kind, happened) WHERE kind IN ('card', 'plan', 'person')",
    *TRIGGERS,
    """CREATE TABLE machine_now (
        machine TEXT PRIMARY KEY NOT NULL,
        tag TEXT NOT NULL,
        name TEXT NOT NULL,
        place TEXT NOT NULL,
        seconds INTEGER NOT NULL,
        millimetres INTEGER NOT NULL,
        runs INTEGER NOT NULL,
        card TEXT NOT NULL,
        tally TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX machine_now_tag ON machine_now (tag)",
    """CREATE TABLE item_now (
        machine TEXT NOT NULL,
        item TEXT NOT NULL,
        part TEXT NOT NULL,
        stop INTEGER NOT NULL,
        from_seconds INTEGER, due_seconds INTEGER, late_seconds INTEGER,
        from_millimetres INTEGER, due_millimetres INTEGER, late_millimetres INTEGER,
        from_runs INTEGER, due_runs INTEGER, late_runs INTEGER,
        from_day INTEGER, due_day INTEGER, late_day INTEGER,
        PRIMARY KEY (machine, item)
    ) STRICT, WITHOUT ROWID""",
)

PINS = (
    """CREATE TABLE pin (
        person TEXT PRIMARY KEY NOT NULL,
        way TEXT NOT NULL,
        salt TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE pin_try (
        person TEXT PRIMARY KEY NOT NULL,
        failed INTEGER NOT NULL,
        last INTEGER NOT NULL
    ) STRICT""",
)
"""The PINs of this register's people. They are no entries: they never travel, and are in no export."""

AT_A_GLANCE = (
    *(
        f"ALTER TABLE machine_now ADD COLUMN {column}"
        for column in (
            "checked INTEGER", "held INTEGER", "run_held_day INTEGER", "road_held_day INTEGER", "run_from INTEGER",
            "run_until INTEGER", "road_from INTEGER", "road_until INTEGER", "life REAL", "next_item TEXT",
            "life_day INTEGER",
        )
    ),
    *(
        f"ALTER TABLE item_now ADD COLUMN {column}"
        for column in ("each_time INTEGER", "done_day INTEGER", "past INTEGER", "life REAL", "span INTEGER")
    ),
    "CREATE INDEX machine_now_order ON machine_now (held, run_held_day, road_held_day, run_from, run_until, life,"
    " life_day, tag, machine)",
    "CREATE INDEX machine_now_lower_tag ON machine_now (LOWER(tag))",
    "CREATE INDEX item_past ON item_now (past)",
    "CREATE INDEX item_due_day ON item_now (due_day)",
    "CREATE INDEX item_late_day ON item_now (late_day)",
    "CREATE INDEX item_life ON item_now (life)",
    "CREATE INDEX item_by_date ON item_now (item, span, from_day)",
    "CREATE INDEX entry_in_order ON entry (machine, happened, recorded, id)",
)  # fmt: skip
"""Derived figures, which step 5 takes away again."""

NARROW = (
    "CREATE INDEX machine_now_totals ON machine_now (machine, tag, place, seconds, millimetres, runs)",
    "CREATE INDEX item_past_grace ON item_now (past, machine, item, part, done_day, from_seconds, due_seconds,"
    " late_seconds, from_millimetres, due_millimetres, late_millimetres, from_runs, due_runs, late_runs, from_day,"
    " due_day, late_day) WHERE past = 2",
    "CREATE INDEX item_late ON item_now (late_day, past, machine, item, part, done_day, from_day, due_day)"
    " WHERE past < 2 AND late_day IS NOT NULL",
)
"""Indexes over derived figures, which step 5 takes away again."""

NO_DERIVED_TABLES = (
    "DROP TABLE machine_now",
    "DROP TABLE item_now",
    "DROP INDEX entry_of_machine",  # the beginning of entry_in_order
)
"""From here on derived tables are no part of the steps: `steps.py` makes them from their models."""

STEPS = (FIRST, PINS, AT_A_GLANCE, NARROW, NO_DERIVED_TABLES)
