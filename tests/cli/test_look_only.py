"""To look only: no command writes, whatever it is for."""

from pathlib import Path
from typing import Any

from reelcare.cli import main


def test_no_demo_is_made(tmp_path: Path, capsys: Any) -> None:
    made = tmp_path / "demo.db"
    assert main(["--view", "demo", "--at", str(made), "--no-app"]) == 2
    assert "--view and demo" in capsys.readouterr().err
    assert not made.exists()
