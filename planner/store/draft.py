"""The shop's tables while an entry changes them: what it did to which row, and that rows are not stale."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from planner.intake import shop_of
from planner.shop import Shop
from planner.store.sheets import Cells, Sheets, StoredRow


class Stale(Exception):
    """Somebody else has changed the row since it was read; nothing was written. The message says what is there now."""

    def __init__(self, row: StoredRow | None, sheet: str, seen: int, since: str) -> None:
        self.row = row
        now = "it was removed" if row is None else "it now reads " + _shown(row.cells)
        version = "" if row is None else f" (version {row.version}, you saw {seen})"
        super().__init__(
            f"{sheet}: the row was changed since you read it{version}: {now}.{since} "
            "Nothing was written: look at it and enter the change again."
        )


@dataclass(frozen=True)
class Change:
    """What happened to one row; ``version`` is the row's afterwards. See ``planner.store.schema.changes``."""

    row: int
    sheet: str
    place: int
    version: int
    before: Cells | None
    after: Cells | None
    lasting: bool = False


class Draft:
    """Tables that can be changed row by row. New rows have numbers below 0 until they are written."""

    def __init__(self, sheets: Sheets) -> None:
        self.sheets = Sheets(dict(sheets.sheets), sheets.entry)
        self._before = {row.id: row for sheet in sheets.sheets.values() for row in sheet.rows}
        self._lasting: set[int] = set()
        self._fresh = 0

    # --- reading ----------------------------------------------------------------------------

    def rows(self, sheet: str) -> tuple[StoredRow, ...]:
        return self.sheets.rows(sheet)

    def find(self, sheet: str, /, **cells: object) -> StoredRow | None:
        """The first row with these cells; see :meth:`planner.store.sheets.Sheets.find`."""
        return self.sheets.find(sheet, **cells)

    def by_id(self, row: int) -> StoredRow | None:
        return next((r for sheet in self.sheets.sheets.values() for r in sheet.rows if r.id == row), None)

    def shop(self) -> Shop:
        """The shop as it is now; raises ``DataFaults`` as reading a folder does."""
        return shop_of(self.sheets.reading())

    # --- changing ---------------------------------------------------------------------------

    def put(self, row: StoredRow, cells: Mapping[str, object], *, lasting: bool = False) -> StoredRow:
        """Change some cells of a row; ``None`` empties one. ``lasting``: the change stays when the entry is undone."""
        now = self.by_id(row.id)
        if now is None:
            raise ValueError(f"row {row.id} of {row.sheet} is not there any more")
        changed = replace(now, cells={**now.cells, **_texts(cells)})
        if changed.cells != now.cells:
            self._replace(row.sheet, [changed if r.id == row.id else r for r in self.rows(row.sheet)])
            if lasting:
                self._lasting.add(row.id)
        return changed

    def add(self, sheet: str, cells: Mapping[str, object]) -> StoredRow:
        """A new last row."""
        self._fresh -= 1
        place = max((r.place for r in self.rows(sheet)), default=0) + 1
        row = StoredRow(self._fresh, sheet, place, _texts(cells), 0)
        self._replace(sheet, [*self.rows(sheet), row])
        return row

    def drop(self, row: StoredRow) -> None:
        self._replace(row.sheet, [r for r in self.rows(row.sheet) if r.id != row.id])

    def put_back(self, row: StoredRow) -> None:
        """A row that was removed, with its number and place."""
        others = [*self.rows(row.sheet), row]
        self._replace(row.sheet, sorted(others, key=lambda r: (r.place, r.id)))

    def _replace(self, sheet: str, rows: list[StoredRow]) -> None:
        self.sheets.sheets[sheet] = replace(self.sheets[sheet], rows=tuple(rows))

    # --- what came of it ---------------------------------------------------------------------

    def changes(self) -> list[Change]:
        """One for each row that is not as it was read."""
        after = {row.id: row for sheet in self.sheets.sheets.values() for row in sheet.rows}
        found = []
        for row in self._before.values():
            now = after.get(row.id)
            if now is None or now.cells != row.cells:
                cells = None if now is None else now.cells
                lasting = row.id in self._lasting
                found.append(Change(row.id, row.sheet, row.place, row.version + 1, row.cells, cells, lasting))
        for row in after.values():
            if row.id not in self._before:
                found.append(Change(row.id, row.sheet, row.place, row.version + 1, None, row.cells))
        return found


def _texts(cells: Mapping[str, object]) -> Cells:
    return {column: "" if value is None else str(value) for column, value in cells.items()}


def _shown(cells: Cells) -> str:
    return ", ".join(f"{column} {cell}" for column, cell in cells.items() if cell)
