"""Write the pictures of quotes in docs/quotes: three demo jobs for invented clients, as PDF pages.

    python docs/make_quote_pictures.py

Needs pdftoppm (poppler-utils). Numbers of quotes come from the secret of a store that lives as long as the script, so they
differ from run to run.
"""

from __future__ import annotations

import subprocess
import tempfile
from datetime import date
from pathlib import Path

from compare import compare, prepare, read_file
from compare.data_files import data_folder
from compare.present.quote_making import asked_quote, make_quote
from compare.quotes.quote_record import Language
from compare.quotes.store import QuoteStore

PICTURES = Path(__file__).parent / "quotes"
DAY = date(2026, 11, 30)
QUOTES: tuple[tuple[str, str, Language, bool], ...] = (
    ("cosmetics_cutouts", "Ostrelle Cosmetics (invented)", "en", False),
    ("herbal_drops_uncertain_run", "Tarnwick Teas (invented)", "en", True),
    ("soap_sleeve", "Savons Belvoire (inventés)", "fr", False),
)
"""Demo job, client, language, and whether the plant's own pages are shown too."""


def main() -> None:
    """Write all pictures anew."""
    PICTURES.mkdir(exist_ok=True)
    plant = read_file(data_folder() / "plants" / "northfold.toml", kind="plant")
    with tempfile.TemporaryDirectory() as folder:
        store = QuoteStore(Path(folder) / "quotes.sqlite3")
        for name, client, language, internal in QUOTES:
            job = read_file(data_folder() / "demo" / f"{name}.toml", kind="job")
            c = compare(prepare(plant, job))
            asked = asked_quote(c, client=client, margin=0.2, language=language, made_on=DAY)
            pdf = Path(folder) / f"{name}.pdf"
            pdf.write_bytes(make_quote(c, [plant], [job], asked, store).pdf(internal=internal))
            for page in range(1, 3 if internal else 2):
                picture = PICTURES / f"{name}{'-internal' if page > 1 else ''}"
                pages = ["-f", str(page), "-l", str(page), "-singlefile"]
                subprocess.run(["pdftoppm", "-r", "100", "-png", *pages, pdf, picture], check=True)  # noqa: S603, S607
                print(f"{picture}.png")


if __name__ == "__main__":
    main()
