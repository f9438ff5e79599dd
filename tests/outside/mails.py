"""Enters: the demo's campaign files; leaves: their mails, compiled by the installed command and read back."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CAMPAIGNS = tuple(sorted((ROOT / "demo" / "campaigns").glob("*.yaml")))
TOOLS = ROOT / ".tools" / "node" / "node_modules"


@dataclass(frozen=True)
class Mail:
    """One compiled mail; `folder` is the variant's folder in the output tree."""

    folder: Path

    @property
    def name(self) -> str:
        return f"{self.folder.parent.name}-{self.folder.name}"

    @property
    def eml(self) -> bytes:
        return (self.folder / "email.eml").read_bytes()

    @property
    def message(self) -> EmailMessage:
        message = message_from_bytes(self.eml, policy=default)
        assert isinstance(message, EmailMessage)
        return message

    @property
    def html(self) -> str:
        """The HTML as the sample recipient gets it."""
        part = self.message.get_body(("html",))
        assert part is not None, f"{self.folder}/email.eml has no HTML part"
        content = part.get_content()
        assert isinstance(content, str)
        return content

    @property
    def pictures(self) -> Path:
        return self.folder.parent / "pictures"


def compile_campaign(campaign: Path, out: Path, pictures: str | None = None) -> Mail:
    """The campaign's main mail, compiled into `out`; `pictures` as the command's option takes it."""
    command = [str(Path(sys.executable).with_name("handbill")), "compile", str(campaign), "--out", str(out)]
    if pictures is not None:
        command += ["--pictures", pictures]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=120, check=False)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    return Mail(out / campaign.stem / "main")
