"""The server of the tests goes on however much it writes."""

import pytest

from tests.servers import Server, postgres_server

__all__ = ["postgres_server"]
MORE_THAN_A_PIPE_HOLDS = 1_000_000


@pytest.mark.long
def test_a_server_that_writes_much_goes_on(postgres_server: Server) -> None:
    import psycopg

    with psycopg.connect(postgres_server.url("postgres"), autocommit=True) as connection:
        connection.execute(f"DO $$ BEGIN RAISE LOG '%', repeat('x', {MORE_THAN_A_PIPE_HOLDS}); END $$")
        assert connection.execute("SELECT 1").fetchone() == (1,)
    assert postgres_server.log.stat().st_size > MORE_THAN_A_PIPE_HOLDS
