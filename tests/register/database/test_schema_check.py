"""The proof names every part of the schema that is not as the program made it."""

from typing import Any

import pytest

from reelcare.register.database.schema_check import schema_problems
from reelcare.register.proof.proving import prove
from tests.servers import in_a_file, on_a_server


def test_a_register_as_it_was_made_has_no_problems(yard: Any) -> None:
    assert schema_problems(yard.register.db) == []


DAMAGE = {
    "DROP TRIGGER entry_is_never_changed": "the trigger entry_is_never_changed is not there",
    "CREATE TRIGGER quiet AFTER INSERT ON pin BEGIN DELETE FROM pin; END": "a trigger that is not ours: quiet",
    "DROP INDEX entry_in_order": "the index entry_in_order of entry is not there",
    "CREATE INDEX mine ON entry (person)": "entry has an index that is not ours: mine",
    "ALTER TABLE machine_state ADD COLUMN colour TEXT": "the table machine_state has a column that is not ours: colour",
    "ALTER TABLE pin DROP COLUMN salt": "the table pin has no column salt",
    "DROP TABLE pin_try": "the table pin_try is not there",
}


NOT_MENDED = {"ALTER TABLE pin DROP COLUMN salt", "ALTER TABLE entry DROP CONSTRAINT one_chain_a_terminal"}
"""What `rebuild` must not touch: tables that cannot be made anew from the entries."""


@in_a_file
@pytest.mark.parametrize("statement", DAMAGE)
def test_what_was_done_to_the_schema_is_named(yard: Any, statement: str) -> None:
    yard.register.db.execute_sql(statement)
    assert DAMAGE[statement] in schema_problems(yard.register.db)
    assert not prove(yard.register).whole
    left = [] if statement in NOT_MENDED else schema_problems(yard.register.db)
    assert set(left) <= set(yard.register.rebuild())
    assert prove(yard.register).whole == (statement not in NOT_MENDED)


@in_a_file
def test_an_index_of_some_entries_only_is_no_index_of_all(yard: Any) -> None:
    """A forged index hides entries from every query that goes through it."""
    yard.register.db.execute_sql("DROP INDEX entry_in_order")
    columns = "machine, happened, recorded, id"
    yard.register.db.execute_sql(f"CREATE INDEX entry_in_order ON entry ({columns}) WHERE kind <> 'fault'")
    assert schema_problems(yard.register.db) == ["the index entry_in_order of entry differs from ours"]


@in_a_file
def test_a_trigger_that_lets_everything_pass_is_not_ours(yard: Any) -> None:
    yard.register.db.execute_sql("DROP TRIGGER entry_is_never_removed")
    yard.register.db.execute_sql(
        "CREATE TRIGGER entry_is_never_removed BEFORE DELETE ON entry WHEN 0 BEGIN SELECT 1; END"
    )
    assert schema_problems(yard.register.db) == ["the trigger entry_is_never_removed differs from ours"]


ON_A_SERVER = {
    "DROP TRIGGER entry_is_never_removed_all ON entry": "the trigger entry_is_never_removed_all is not there",
    "ALTER TABLE entry DISABLE TRIGGER entry_is_never_changed": "the trigger entry_is_never_changed is switched off",
    "CREATE OR REPLACE FUNCTION entry_is_never_changed() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'":
        "the trigger entry_is_never_changed differs from ours",
    "DROP INDEX entry_in_order": "the index entry_in_order of entry is not there",
    "ALTER TABLE entry DROP CONSTRAINT one_chain_a_terminal": "terminal and place of entry need not be unique",
    "ALTER TABLE machine_state ALTER COLUMN tag TYPE varchar(20)":
        "the column tag of machine_state is character varying, not TEXT",
}  # fmt: skip


@pytest.mark.long
@on_a_server
@pytest.mark.parametrize("statement", ON_A_SERVER)
def test_what_was_done_to_the_schema_on_a_server_is_named(yard: Any, statement: str) -> None:
    yard.register.db.execute_sql(statement)
    assert ON_A_SERVER[statement] in schema_problems(yard.register.db)
    assert not prove(yard.register).whole
    yard.register.rebuild()
    assert prove(yard.register).whole == (statement not in NOT_MENDED)
