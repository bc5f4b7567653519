"""Certificates that sign themselves, as programs and printers of one shop have them."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest


def self_signed(folder: Path, subject: str, names: str) -> Path:
    """Certificate and key in one file; it is its own authority. Skips without openssl."""
    tool = shutil.which("openssl")
    if tool is None:
        pytest.skip("openssl is not installed")
    command = [tool, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"]
    named = ["-subj", f"/CN={subject}", "-addext", f"subjectAltName={names}"]
    files = ["-keyout", str(folder / "key"), "-out", str(folder / "certificate")]
    subprocess.run([*command, *named, *files], check=True, capture_output=True)
    whole = folder / "both.pem"
    whole.write_text((folder / "certificate").read_text() + (folder / "key").read_text())
    return whole
